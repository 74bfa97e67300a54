"""Astigmatic vergence through a toric lens, by 2x2 dioptric power matrices, and what is chosen from it.

Sources: harris1988, langenbucher2004, famlim2007. Marks lie on the lens's WEAKEST meridian. Axes in degrees.

Another method: power matrices and their eigenvalues, where the cells trace one meridian at a time;
ideal_cylinder_famlim2007 by iteration, where they have a closed form.
An echo: step_count and choose_cylinder, roundings and comparisons as the cells compute them.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .constants import CONSTANTS
from .rays import Array, real
from .vectors import minus_cylinder_of_matrix, power_matrix, power_vector_of_matrix, propagate
from .vergence import position_is_valid

ROTATION_STEPS = np.arange(0, 50, 5)
_CHORD_STEPS = 50


class PlaneRefraction(NamedTuple):
    """Refraction in one plane: sphere, minus cylinder (D), axis (degrees), mean, J0, J45 (D)."""

    sphere: Array
    cylinder: Array
    axis: Array
    mean: Array
    j0: Array
    j45: Array


class ToricRefraction(NamedTuple):
    """The refraction of an eye at its cornea and in the spectacle plane."""

    cornea: PlaneRefraction
    spectacles: PlaneRefraction


class CylinderChoice(NamedTuple):
    """The lens cylinder chosen (D at the lens), and from what.

    Of all cylinders those that flip no axis and those that leave least, NaN for the others; what those leave (D).
    """

    chosen: Array
    without_flip: Array
    least: Array
    least_left: Array


def _plane(correction: Array) -> PlaneRefraction:
    return PlaneRefraction(*minus_cylinder_of_matrix(correction), *power_vector_of_matrix(correction))


@np.errstate(invalid="ignore", divide="ignore")
def _before_lens(
    lens_mean: ArrayLike, lens_cylinder: ArrayLike, marks: ArrayLike, length: ArrayLike, position: ArrayLike
) -> Array:
    """Vergence matrix (D) just before the lens that the retina asks for; NaN where the eye is not valid."""
    length, position = real(length), real(position)
    valid = position_is_valid(length, position)
    wanted = np.where(valid, 1000 * CONSTANTS.index_aqueous / (length - position), np.nan)
    vergence = power_matrix(wanted, 0, np.nan) - power_matrix(lens_mean, lens_cylinder, real(marks) + 90)
    weakest = np.abs(real(lens_cylinder)) / 2 < wanted - real(lens_mean)
    return np.where(weakest[..., None, None], vergence, np.nan)


def vergence_at_cornea(
    lens_mean: ArrayLike, lens_cylinder: ArrayLike, marks: ArrayLike, length: ArrayLike, position: ArrayLike
) -> Array:
    """Vergence matrix (..., 2, 2), D, that the retina asks for just behind the cornea: cornea and correction together.

    As refraction_toric_langenbucher2004, which takes the cornea away from it.
    """
    before = _before_lens(lens_mean, lens_cylinder, marks, length, position)
    return propagate(before, -real(position) / (1000 * CONSTANTS.index_aqueous))


def refraction_toric_langenbucher2004(
    cornea: ArrayLike,
    cylinder: ArrayLike,
    steep: ArrayLike,
    lens_mean: ArrayLike,
    lens_cylinder: ArrayLike,
    marks: ArrayLike,
    length: ArrayLike,
    position: ArrayLike,
    vertex: ArrayLike = "vertex_of_formulas",
) -> ToricRefraction:
    """Refraction of an eye with a toric lens, at the cornea and in the spectacle plane at vertex mm.

    cornea Kc, cylinder C >= 0 (D) at the steep meridian; lens mean power, cylinder T >= 0 (D) and marks; L, d in mm.
    A cylinder of 0 needs no axis. NaN when one is absent, outside the limits of d, or when a meridian would not
    converge onto the lens (langenbucher2004).
    """
    wanted = vergence_at_cornea(lens_mean, lens_cylinder, marks, length, position)
    correction = wanted - power_matrix(cornea, cylinder, steep)
    return ToricRefraction(_plane(correction), _plane(propagate(correction, -real(vertex) / 1000)))


def effect_at_cornea_famlim2007(
    lens_mean: ArrayLike, lens_cylinder: ArrayLike, length: ArrayLike, position: ArrayLike
) -> Array:
    """What a lens cylinder T (D at the lens) does at the cornea: 2h (D). Lens mean power in D, L and d in mm.

    NaN as in the refraction (famlim2007).
    """
    # Marks at 45 degrees put the whole difference into one entry of the matrix: no digits are lost in subtracting.
    at_cornea = vergence_at_cornea(lens_mean, lens_cylinder, 45.0, length, position)
    return 2 * at_cornea[..., 0, 1]


@np.errstate(invalid="ignore", divide="ignore")
def ideal_cylinder_famlim2007(
    cylinder: ArrayLike, lens_mean: ArrayLike, length: ArrayLike, position: ArrayLike
) -> Array:
    """Lens cylinder T (D at the lens) whose effect at the cornea is C (D), by chord iteration on the power matrices.

    C >= 0 and lens mean power in D, L and d in mm. NaN when one is absent, not valid or not found (famlim2007).
    """
    wanted = real(cylinder)
    per_dioptre = effect_at_cornea_famlim2007(lens_mean, 1.0, length, position)
    found = wanted / per_dioptre
    for _ in range(_CHORD_STEPS):
        step = (wanted - effect_at_cornea_famlim2007(lens_mean, found, length, position)) / per_dioptre
        found = found + step
        if not np.any(np.abs(step) > 4 * np.spacing(np.abs(found))):
            break
    missed = np.abs(wanted - effect_at_cornea_famlim2007(lens_mean, found, length, position))
    return np.where((missed <= 1e-12 * np.maximum(1.0, np.abs(wanted))) & (wanted >= 0), found, np.nan)


@np.errstate(invalid="ignore", divide="ignore")
def step_count(exact: ArrayLike, power_from: ArrayLike, power_step: ArrayLike, nearest: ArrayLike) -> Array:
    """How many steps above the first power of a lens the one for an exact power stands (all D).

    The next stronger one, which errs to the myopic side, or the `nearest`, half a step up. NaN when one is absent.
    Common practice.
    """
    slack, number = CONSTANTS.rounding_slack, (real(exact) - real(power_from)) / real(power_step)
    return np.where(nearest, np.floor(number + slack + 0.5), np.ceil(number - slack))


@np.errstate(invalid="ignore")
def choose_cylinder(
    cylinders: ArrayLike, effects: ArrayLike, left: ArrayLike, corneal: ArrayLike, smallest: ArrayLike
) -> CylinderChoice:
    """The lens cylinder for a corneal cylinder C (D) out of a lens's own, which form the LAST axis, NaN for none.

    effects: what each does at the cornea, 2h (D); left: the minus cylinder that each leaves in the spectacle plane (D).
    The strongest with 2h <= C, which flips no axis, 0 when none is; where `smallest`, that which leaves least, of
    equal ones the weaker. NaN when what a cylinder of 0 leaves is. Settings, no source.
    """
    slack, options, sizes = CONSTANTS.rounding_slack, real(cylinders), -real(left)
    sizes_least: Array = np.fmin.reduce(sizes, axis=-1)
    least_left = np.where(np.isnan(sizes[..., 0]), np.nan, sizes_least)
    without_flip = np.where(real(effects) <= real(corneal)[..., None] + slack, options, np.nan)
    least = np.where(sizes <= least_left[..., None] + slack, options, np.nan)
    strongest: Array = np.fmax.reduce(without_flip, axis=-1)
    weakest: Array = np.fmin.reduce(least, axis=-1)
    chosen = np.where(np.isnan(least_left), np.nan, np.nan_to_num(np.where(smallest, weakest, strongest)))
    return CylinderChoice(chosen, without_flip, least, least_left)
