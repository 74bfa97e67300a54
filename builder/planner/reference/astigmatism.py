"""What a toric lens has to correct: the astigmatism of the cornea from several sources, and what the incision takes.

Vectors are complex double-angle numbers X + iY (D) at the STEEP meridian; see vectors.magnitude_and_axis.

Another method: complex numbers and power matrices, where the cells reckon X and Y apart by cosines and sines.
An echo: regression_abulafia2016, two straight lines as the cells compute them.
"""

import numpy as np
from numpy.typing import ArrayLike

from .constants import CONSTANTS
from .keratometry import back_power, front_power, radius_of_k
from .rays import real
from .vectors import ComplexArray, double_angle, power_matrix, power_vector_of_matrix


@np.errstate(invalid="ignore")
def corneal_astigmatism(flat: ArrayLike, steep: ArrayLike, steep_axis: ArrayLike) -> ComplexArray:
    """Vector (D) of a ring, a zone or a total corneal power: flat and steep (D), steep axis (degrees). NaN when absent.

    Definition (savininaeser2015).
    """
    return double_angle(real(steep) - real(flat), steep_axis)


@np.errstate(invalid="ignore", divide="ignore")
def front_and_back_astigmatism(
    front_cylinder: ArrayLike,
    front_steep_axis: ArrayLike,
    back_flat_radius: ArrayLike,
    back_steep_radius: ArrayLike,
    back_steep_axis: ArrayLike,
) -> ComplexArray:
    """Vector (D) of front and back surface together, as thin power matrices in contact. NaN when one is absent.

    front_cylinder in D (1.3375), radii in mm, axes of the STEEP meridians in degrees (savininaeser2015, harris1988).
    """
    true_over_keratometric = front_power(radius_of_k(1.0))
    front = power_matrix(0, true_over_keratometric * real(front_cylinder), front_steep_axis)
    along, across = back_power(back_steep_radius), back_power(back_flat_radius)
    # The steep back meridian is the most NEGATIVE one, so the strongest stands across it.
    back = power_matrix((along + across) / 2, across - along, real(back_steep_axis) + 90)
    total = power_vector_of_matrix(front + back)
    return 2 * (total.j0 + 1j * total.j45)


@np.errstate(invalid="ignore")
def regression_abulafia2016(keratometric: ArrayLike) -> ComplexArray:
    """Vector (D) expected of the whole cornea in a normal population from the keratometric vector X + iY (D).

    For a REGULAR cornea only, before the incision. NaN when absent (abulafia2016, from memory).
    """
    vector = np.asarray(keratometric, dtype=np.complex128)
    x = CONSTANTS.regression_x_offset + CONSTANTS.regression_x_slope * vector.real
    return x + 1j * (CONSTANTS.regression_y_offset + CONSTANTS.regression_y_slope * vector.imag)


@np.errstate(invalid="ignore")
def after_incision(
    vector: ArrayLike, incision_meridian: ArrayLike, effect: ArrayLike = "default_incision_effect"
) -> ComplexArray:
    """Vector (D) left when an incision (degrees, 0 to 360) flattens its own meridian by effect (D), coupling 1:1.

    NaN when one is absent (savininaeser2015 for the arithmetic).
    """
    return np.asarray(vector, dtype=np.complex128) - double_angle(effect, incision_meridian)
