"""Positions round the limbus as unit vectors (complex numbers): no angle is ever wrapped by hand.

Angles are degrees as the examiner faces the patient, 0 at the examiner's right, counter-clockwise.

Another method: apart and turn by complex unit vectors, where the cells wrap by MOD; half_width by an arc sine, where
they ask ATAN2.
An echo: whole and along_limbus, a rounding and a product as the cells compute them.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .rays import Array, real

SHOWN = 6  # decimals of a turn round the circle, so that a rounding error at 0 is no full turn


def unit(degrees: ArrayLike) -> NDArray[np.complex128]:
    """The unit vector of a position; NaN when absent."""
    return np.exp(1j * np.deg2rad(real(degrees)))


@np.errstate(invalid="ignore")
def apart(first: ArrayLike, second: ArrayLike) -> Array:
    """The angle between two positions, degrees in [0, 180]; NaN when one is absent."""
    between = unit(first) * np.conj(unit(second))
    return np.abs(np.rad2deg(np.angle(between)))


@np.errstate(invalid="ignore")
def turn(start: ArrayLike, end: ArrayLike) -> Array:
    """The counter-clockwise way from start to end, degrees in [0, 360); NaN when one is absent."""
    way = np.rad2deg(np.angle(unit(end) * np.conj(unit(start))))
    way = np.round(np.where(way < 0, way + 360, way), SHOWN)
    return np.where(way >= 360, 0.0, way)


def whole(angle: ArrayLike) -> Array:
    """Rounded to whole degrees as a person does, halves up; NaN when absent."""
    return np.floor(np.round(real(angle), SHOWN) + 0.5)


def half_width(width: ArrayLike, diameter: ArrayLike) -> Array:
    """Half of an incision's width (mm, a straight chord of the limbus of this diameter, mm) as an angle, degrees.

    NaN when one is absent or the chord is longer than the diameter. Plane geometry.
    """
    return np.rad2deg(np.arcsin(real(width) / real(diameter)))


def along_limbus(degrees: ArrayLike, diameter: ArrayLike) -> Array:
    """The length (mm) of an arc (degrees) of the limbus of a diameter (mm). NaN when one is absent. Plane geometry."""
    return np.deg2rad(real(degrees)) * real(diameter) / 2
