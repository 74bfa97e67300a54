"""Ray-transfer (ABCD) matrices of paraxial optics, for arrays of eyes.

A ray is (height in m, reduced slope = index x slope). Matrices have the shape of the eyes followed by (2, 2).
Textbook paraxial optics, no single source.

Another method: ray-transfer matrices, where the cells have vergence equations in closed form.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .constants import CONSTANTS

Array = NDArray[np.float64]


def real(values: ArrayLike) -> Array:
    """Values as an array of floats; None becomes NaN, the key of a constant its value. Any shape."""
    return np.asarray(getattr(CONSTANTS, values) if isinstance(values, str) else values, dtype=np.float64)


def matrix(a: ArrayLike, b: ArrayLike, c: ArrayLike, d: ArrayLike) -> Array:
    """Stack the four entries, broadcast against each other, to shape (..., 2, 2)."""
    a, b, c, d = np.broadcast_arrays(real(a), real(b), real(c), real(d))
    return np.stack([np.stack([a, b], axis=-1), np.stack([c, d], axis=-1)], axis=-2)


def refract(power: ArrayLike) -> Array:
    """Thin lens or surface of a power in D: shape (..., 2, 2)."""
    return matrix(1, 0, -real(power), 1)


def travel(distance: ArrayLike, index: ArrayLike = 1.0) -> Array:
    """A distance in mm through a refractive index: shape (..., 2, 2)."""
    return matrix(1, real(distance) / (1000 * real(index)), 0, 1)


@np.errstate(invalid="ignore", over="ignore")
def chain(*elements: Array) -> Array:
    """The whole system, its elements given in the order in which light meets them: shape (..., 2, 2)."""
    system = elements[0]
    for element in elements[1:]:
        system = element @ system
    return system
