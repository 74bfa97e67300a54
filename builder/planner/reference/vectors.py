"""Angles, double-angle vectors, refractions and 2x2 dioptric power matrices.

Double-angle vectors are complex numbers C exp(2i axis): real part X, imaginary part Y.
Sources: thibos1997 (power vectors), harris1988 (power matrices), savininaeser2015 (vector arithmetic).

Another method: complex numbers, power matrices and eigenvalues, where the cells have cosines, square roots, ATAN2 and
each meridian by itself.
An echo: fold_axis and axis_difference, remainders of half a turn as the cells compute them.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .constants import CONSTANTS
from .rays import Array, matrix, real

ComplexArray = NDArray[np.complex128]


class Cylinder(NamedTuple):
    """Magnitude (D, >= 0) and its axis or meridian (degrees in (0, 180])."""

    magnitude: Array
    axis: Array


class SphereCylinder(NamedTuple):
    """Sphere (D), cylinder (D, sign by its notation), axis (degrees in (0, 180])."""

    sphere: Array
    cylinder: Array
    axis: Array


class PowerVector(NamedTuple):
    """Spherical equivalent M and the two crossed cylinders J0, J45 (D)."""

    mean: Array
    j0: Array
    j45: Array


class PrincipalPowers(NamedTuple):
    """Mean power (D), cylinder >= 0 (D) and the meridian of the strongest power (degrees in (0, 180])."""

    mean: Array
    cylinder: Array
    strongest: Array


@np.errstate(invalid="ignore")
def fold_axis(axis: ArrayLike) -> Array:
    """Axis (degrees, any) as the same axis in (0, 180]; 0 is shown as 180, a rounding error beside it too.

    NaN when absent. Convention of the trade, no source.
    """
    folded = np.mod(real(axis), 180)
    slack = CONSTANTS.rounding_slack
    return np.where((folded < slack) | (folded > 180 - slack), 180.0, folded)


@np.errstate(invalid="ignore")
def axis_difference(axis: ArrayLike, other: ArrayLike) -> Array:
    """How far axis stands counter-clockwise of other, on the circle: degrees in (-90, 90]. NaN when one is absent."""
    turn = np.mod(real(axis) - real(other), 180)
    return np.where(turn > 90 + CONSTANTS.rounding_slack, turn - 180, np.minimum(turn, 90))


def axis_gap(axis: ArrayLike, other: ArrayLike) -> Array:
    """Unsigned angle between two axes, degrees in [0, 90]. NaN when one is absent."""
    return np.abs(axis_difference(axis, other))


@np.errstate(invalid="ignore")
def double_angle(magnitude: ArrayLike, axis: ArrayLike) -> ComplexArray:
    """Vector C exp(2i axis), D: its real part is X, its imaginary part Y (savininaeser2015).

    A magnitude of 0 needs no axis; otherwise NaN when magnitude or axis (degrees) is absent.
    """
    size = real(magnitude)
    return np.where(np.abs(size) < CONSTANTS.rounding_slack, 0, size * np.exp(2j * np.deg2rad(real(axis))))


@np.errstate(invalid="ignore")
def magnitude_and_axis(vector: ArrayLike) -> Cylinder:
    """Magnitude (D) and axis (degrees in (0, 180]) of a double-angle vector X + iY (D).

    The axis is NaN below axis_free_below; both are NaN when the vector is absent.
    """
    vector = np.asarray(vector, dtype=np.complex128)
    size = np.abs(vector)
    axis = fold_axis(np.rad2deg(np.angle(vector)) / 2)
    return Cylinder(size, np.where(size < CONSTANTS.axis_free, np.nan, axis))


def to_power_vector_thibos1997(sphere: ArrayLike, cylinder: ArrayLike, axis: ArrayLike) -> PowerVector:
    """M, J0, J45 (D) of sphere, cylinder (D, either sign) and axis (degrees). NaN when one is absent (thibos1997)."""
    crossed = -double_angle(cylinder, axis) / 2
    mean = real(sphere) + real(cylinder) / 2
    mean, crossed = np.broadcast_arrays(np.where(np.isnan(crossed), np.nan, mean), crossed)
    return PowerVector(mean, crossed.real, crossed.imag)


def power_matrix(mean: ArrayLike, cylinder: ArrayLike, strongest: ArrayLike) -> Array:
    """Dioptric power matrix (..., 2, 2), D, from mean, cylinder >= 0 (D) and the strongest meridian (degrees).

    A cylinder of 0 needs no meridian; otherwise all NaN when one is absent (harris1988).
    """
    crossed = double_angle(cylinder, strongest) / 2
    return matrix_of_power_vector(mean, crossed.real, crossed.imag)


def matrix_of_power_vector(mean: ArrayLike, j0: ArrayLike, j45: ArrayLike) -> Array:
    """Dioptric power matrix (..., 2, 2), D, of M, J0, J45 (D). NaN when one is absent (harris1988)."""
    return matrix(real(mean) + real(j0), j45, j45, real(mean) - real(j0))


def power_vector_of_matrix(powers: Array) -> PowerVector:
    """M, J0, J45 (D) of symmetric power matrices (..., 2, 2), D. NaN where an entry is NaN (harris1988)."""
    along, across = powers[..., 0, 0], powers[..., 1, 1]
    return PowerVector((along + across) / 2, (along - across) / 2, (powers[..., 0, 1] + powers[..., 1, 0]) / 2)


def principal_powers_harris1988(powers: Array) -> PrincipalPowers:
    """Mean, cylinder (D) and strongest meridian (degrees) of power matrices (..., 2, 2), by eigenvalues (harris1988).

    The meridian is NaN when the cylinder is under axis_free_below; all NaN when the matrix holds a NaN or infinity.
    """
    absent = np.asarray(~np.isfinite(powers).all(axis=(-2, -1)))
    values, directions = np.linalg.eigh(np.where(absent[..., None, None], np.eye(2), powers))
    strong = np.rad2deg(np.arctan2(directions[..., 1, 1], directions[..., 0, 1]))
    cylinder = np.where(absent, np.nan, values[..., 1] - values[..., 0])
    strongest = np.where(absent | (cylinder < CONSTANTS.axis_free), np.nan, fold_axis(strong))
    return PrincipalPowers(np.where(absent, np.nan, values.mean(axis=-1)), cylinder, strongest)


def minus_cylinder_of_matrix(powers: Array) -> SphereCylinder:
    """Sphere, minus cylinder (D), axis (degrees) of a correcting power matrix (..., 2, 2). NaN as in its eigenvalues.

    A minus cylinder has no power along its axis, so the axis is the strongest meridian (harris1988).
    """
    mean, cylinder, strongest = principal_powers_harris1988(powers)
    return SphereCylinder(mean + cylinder / 2, -cylinder, strongest)


@np.errstate(invalid="ignore", divide="ignore", over="ignore")
def propagate(vergence: Array, reduced_distance: ArrayLike) -> Array:
    """Vergence matrix (..., 2, 2), D, after light has travelled a distance / index (in m; negative: upstream).

    V (I - x V)^-1; NaN or infinite where a focus lies in the new plane (harris1988, langenbucher2004).
    """
    seen = np.eye(2) - real(reduced_distance)[..., None, None] * vergence
    a, b, c, d = seen[..., 0, 0], seen[..., 0, 1], seen[..., 1, 0], seen[..., 1, 1]
    return vergence @ (matrix(d, -b, -c, a) / (a * d - b * c)[..., None, None])


def spectacle_to_cornea(
    sphere: ArrayLike, cylinder: ArrayLike, axis: ArrayLike, vertex: ArrayLike = "default_vertex"
) -> SphereCylinder:
    """Refraction at the cornea, in minus cylinder, of spectacles (D, D, degrees) at a vertex distance (mm).

    Each principal meridian moves by itself. NaN when one is absent (harris1988).
    """
    spectacles = matrix_of_power_vector(*to_power_vector_thibos1997(sphere, cylinder, axis))
    return minus_cylinder_of_matrix(propagate(spectacles, real(vertex) / 1000))
