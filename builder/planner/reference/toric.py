"""Astigmatic vergence through a toric lens, by 2x2 dioptric power matrices, and what is chosen from it.

Sources: harris1988, langenbucher2004, famlim2007. Marks lie on the lens's WEAKEST meridian. Axes in degrees.
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


class CylinderOptions(NamedTuple):
    """Lens cylinders (D at the lens), their effect at the cornea 2h (D), and the refraction each leaves.

    The options are the last axis of each array.
    """

    lens_cylinder: Array
    effect: Array
    left: ToricRefraction


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
    vertex: ArrayLike = CONSTANTS.vertex_of_formulas,
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
def step_lens_power(
    exact: ArrayLike, power_from: ArrayLike, power_to: ArrayLike, power_step: ArrayLike, rule: str = "myopic side"
) -> Array:
    """The power (D) of a lens range that stands for an exact power (D): "myopic side" (up) or "nearest" (half up).

    NaN when one is absent or the exact power is outside the range; ValueError for another rule. Common practice.
    """
    slack = CONSTANTS.rounding_slack
    start, step = real(power_from), real(power_step)
    number = (real(exact) - start) / step
    last = (real(power_to) - start) / step
    if rule == "myopic side":
        chosen = np.ceil(number - slack)
    elif rule == "nearest":
        chosen = np.floor(number + 0.5 + slack)
    else:
        raise ValueError(f'step rule {rule!r}: use "myopic side" or "nearest"')
    inside = (number >= -slack) & (number <= last + slack) & (chosen <= last + slack)
    return np.where(inside, start + chosen * step, np.nan)


def _with_options(*eyes: ArrayLike) -> list[Array]:
    """The same values with a last axis of length 1, along which options are tried."""
    return [real(eye)[..., None] for eye in eyes]


def cylinder_options(
    cornea: ArrayLike,
    cylinder: ArrayLike,
    steep: ArrayLike,
    lens_mean: ArrayLike,
    lens_cylinders: ArrayLike,
    length: ArrayLike,
    position: ArrayLike,
    vertex: ArrayLike = CONSTANTS.vertex_of_formulas,
) -> CylinderOptions:
    """What each cylinder of a lens leaves with its marks on the steep meridian; 0 is put first.

    lens_cylinders (D, rising) has the options as its LAST axis, NaN where a lens has fewer; the rest as in
    refraction_toric_langenbucher2004.
    """
    listed = real(lens_cylinders)
    options = np.concatenate([np.zeros((*listed.shape[:-1], 1)), listed], axis=-1)
    kc, c, s, mean, length, position, vertex = _with_options(
        cornea, cylinder, steep, lens_mean, length, position, vertex
    )
    left = refraction_toric_langenbucher2004(kc, c, s, mean, options, s, length, position, vertex)
    effect = effect_at_cornea_famlim2007(mean, options, length, position)
    return CylinderOptions(np.broadcast_to(options, effect.shape), effect, left)


@np.errstate(invalid="ignore")
def choose_cylinder(options: CylinderOptions, cylinder: ArrayLike, rule: str = "no axis flip") -> Array:
    """The lens cylinder (D at the lens, 0 for none) chosen from the options for a corneal cylinder C (D).

    "no axis flip": the strongest with 2h <= C. "smallest residual": the least cylinder in the spectacle plane, ties
    to the weaker. NaN when C or every option is absent; ValueError for another rule. Settings, no source.
    """
    slack = CONSTANTS.rounding_slack
    corneal = real(cylinder)[..., None]
    if rule == "no axis flip":
        fits = options.effect <= corneal + slack
        chosen = np.max(np.where(fits, options.lens_cylinder, -np.inf), axis=-1)
    elif rule == "smallest residual":
        left = np.where(np.isnan(options.left.spectacles.cylinder), np.inf, -options.left.spectacles.cylinder)
        ties = left <= np.min(left, axis=-1, keepdims=True) + slack
        chosen = np.min(np.where(ties & np.isfinite(left), options.lens_cylinder, np.inf), axis=-1)
    else:
        raise ValueError(f'cylinder rule {rule!r}: use "no axis flip" or "smallest residual"')
    return np.where(np.isfinite(chosen), chosen, np.nan)


def rotation_residuals(
    cornea: ArrayLike,
    cylinder: ArrayLike,
    steep: ArrayLike,
    lens_mean: ArrayLike,
    lens_cylinder: ArrayLike,
    marks: ArrayLike,
    length: ArrayLike,
    position: ArrayLike,
    offsets: ArrayLike = ROTATION_STEPS,
) -> Array:
    """Residual astigmatism in the spectacle plane (D, >= 0) with the lens turned off its marks.

    The offsets (degrees, plus counter-clockwise) form a new LAST axis. The rest and NaN as
    in refraction_toric_langenbucher2004.
    """
    kc, c, s, mean, t, marked, length, position = _with_options(
        cornea, cylinder, steep, lens_mean, lens_cylinder, marks, length, position
    )
    turned = refraction_toric_langenbucher2004(kc, c, s, mean, t, marked + real(offsets), length, position)
    return -turned.spectacles.cylinder
