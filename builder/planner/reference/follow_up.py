"""After the operation: what the refraction says of lens and cornea, by power matrices and rays.

Marks lie on the lens's WEAKEST meridian; axes in degrees. Sources: harris1988 (matrices), langenbucher2004 (vergence),
holladay1993 (power from the refraction).

Another method: vergence matrices, where the cells have one meridian at a time in closed form; positions_in_focus by
three rays and eigenvalues, where they solve a quadratic equation.
An echo: net_power, a proportion as the cells compute it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .constants import CONSTANTS
from .rays import Array, chain, real, refract, travel
from .vectors import matrix_of_power_vector, propagate, to_power_vector_thibos1997


def correction_at_cornea(sphere: ArrayLike, cylinder: ArrayLike, axis: ArrayLike, vertex: ArrayLike) -> Array:
    """Power matrix (..., 2, 2), D, at the cornea, of spectacles (D, D, degrees) at a vertex distance (mm).

    A cylinder of 0 needs no axis; NaN when one is absent (harris1988).
    """
    worn = matrix_of_power_vector(*to_power_vector_thibos1997(sphere, cylinder, axis))
    return propagate(worn, real(vertex) / 1000)


@np.errstate(invalid="ignore", divide="ignore")
def arriving(vergence: Array, position: ArrayLike) -> Array:
    """Vergence matrix (..., 2, 2), D, at a lens position (mm) of light that leaves the cornea with a vergence matrix.

    NaN where a meridian would focus at or before the lens (harris1988).
    """
    deep = real(position) / (1000 * CONSTANTS.index_aqueous)
    known: NDArray[np.bool_] = np.all(np.isfinite(vergence), axis=(-2, -1))
    strongest = np.linalg.eigvalsh(np.where(known[..., None, None], vergence, 0.0))[..., -1]
    reaches = known & (deep * strongest < 1)
    return np.where(reaches[..., None, None], propagate(vergence, deep), np.nan)


def second_lens_holladay1993(cornea: ArrayLike, refraction: ArrayLike, goal: ArrayLike, position: ArrayLike) -> Array:
    """Lens power (D) to be added at a position (mm) that turns a refraction into a goal, both at the cornea (D).

    cornea: net power (D). NaN when one is absent or light would focus before the lens (holladay1993, from memory).
    """
    now, wanted = (
        arriving((real(cornea) + real(r))[..., None, None] * np.eye(2), position) for r in (refraction, goal)
    )
    return now[..., 0, 0] - wanted[..., 0, 0]


def net_power(k: ArrayLike) -> Array:
    """Net corneal power (D) of a K (D, 1.3375), as the refraction formula wants it (holladay1993, from memory)."""
    return real(k) * CONSTANTS.holladay_index_numerator / (1000 * (CONSTANTS.keratometric_index - 1))


@np.errstate(invalid="ignore", divide="ignore")
def positions_in_focus(vergence: ArrayLike, length: ArrayLike, power: ArrayLike) -> Array:
    """The two lens positions (mm, shape ... x 2, complex) at which a power (D) focuses on the retina.

    For a vergence behind the cornea (D) and a length (mm). NaN for a power of 0 or light that does not converge.

    The height at which a ray meets the retina is a parabola in the position: three rays fix it, its roots are the
    eigenvalues of its companion matrix. Textbook paraxial optics, no single source.
    """
    vergence, length, power = np.broadcast_arrays(real(vergence), real(length), real(power))
    index = CONSTANTS.index_aqueous
    front, middle, back = (
        chain(refract(vergence), travel(share * length, index), refract(power), travel((1 - share) * length, index))[
            ..., 0, 0
        ]
        for share in (0.0, 0.5, 1.0)
    )
    square = 2 * (front - 2 * middle + back)
    linear = 4 * middle - 3 * front - back
    known = np.isfinite(square) & (power != 0) & (vergence > 0)
    square = np.where(known, square, 1.0)
    companion = np.zeros((*known.shape, 2, 2))
    companion[..., 0, 0] = -np.where(known, linear, 0.0) / square
    companion[..., 0, 1] = -np.where(known, front, 0.0) / square
    companion[..., 1, 0] = 1.0
    shares = np.linalg.eigvals(companion.astype(complex))
    return np.where(known[..., None], shares * np.where(known, length, 1.0)[..., None], np.nan)
