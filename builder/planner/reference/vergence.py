"""Lens power and refraction of a thin-lens eye, by ray-transfer matrices.

Light meets spectacles, air, a thin cornea Kc, aqueous to the lens at d, the lens P, and aqueous to the retina at L.
A plan is in focus when a ray that enters parallel to the axis ends on the axis at the retina.

Another method: lens_power and refraction by ray-transfer matrices, where the cells have vergence equations in closed
form.
An echo: corneal_power, optical_length and position_is_valid, quotients, sums and limits as the cells compute them.
"""

import numpy as np
from numpy.typing import ArrayLike

from .constants import CONSTANTS
from .keratometry import radius_of_k
from .rays import Array, chain, real, refract, travel

FORMULAS = ("SRK/T", "Holladay 1", "Hoffer Q", "Haigis", "T2")


def _corneal_numerator(formula: str) -> float:
    return {
        "SRK/T": CONSTANTS.srkt_index_numerator,
        "Holladay 1": CONSTANTS.holladay_index_numerator,
        "Hoffer Q": 1000 * (CONSTANTS.keratometric_index - 1),
        "Haigis": CONSTANTS.haigis_index_numerator,
        "T2": CONSTANTS.srkt_index_numerator,
    }[formula]


def _retina(formula: str) -> tuple[float, float]:
    """What the optical length adds to the axial length: a constant (mm) and a share of the length."""
    return {
        "SRK/T": (CONSTANTS.srkt_retina_offset, -CONSTANTS.srkt_retina_slope),
        "Holladay 1": (CONSTANTS.holladay_retina, 0.0),
        "Hoffer Q": (0.0, 0.0),
        "Haigis": (0.0, 0.0),
        "T2": (CONSTANTS.srkt_retina_offset, -CONSTANTS.srkt_retina_slope),
    }[formula]


@np.errstate(invalid="ignore", divide="ignore")
def corneal_power(formula: str, k: ArrayLike) -> Array:
    """Kc (D) of a formula (one of FORMULAS; KeyError otherwise) from K (D, 1.3375). NaN when absent.

    Sources: retzlaff1990, holladay1988, hoffer1993, haigis2000, sheard2010.
    """
    return _corneal_numerator(formula) / radius_of_k(k)


def optical_length(formula: str, axial_length: ArrayLike) -> Array:
    """L (mm) of a formula (one of FORMULAS; KeyError otherwise) from axial length (mm). NaN when absent.

    Sources: retzlaff1990, holladay1988, hoffer1993, haigis2000, sheard2010.
    """
    offset, share = _retina(formula)
    return real(axial_length) * (1 + share) + offset


@np.errstate(invalid="ignore")
def position_is_valid(length: ArrayLike, position: ArrayLike) -> np.ndarray:
    """True where shallowest_lens <= d <= deepest_lens and d < L (mm); False when absent. A setting, no source."""
    deep, slack = real(position), CONSTANTS.rounding_slack
    inside = (deep >= CONSTANTS.shallowest_lens - slack) & (deep <= CONSTANTS.deepest_lens + slack)
    return inside & (real(length) > deep)


@np.errstate(invalid="ignore", divide="ignore", over="ignore")
def lens_power(
    cornea: ArrayLike,
    length: ArrayLike,
    position: ArrayLike,
    refraction: ArrayLike = 0.0,
    vertex: ArrayLike = "vertex_of_formulas",
) -> Array:
    """Exact lens power (D) that leaves a spectacle refraction (D) at a vertex distance (mm); 0: the plano power.

    cornea Kc in D; length L, position d in mm. NaN when one is absent, when d is outside its limits or not before the
    retina, or when the eye without a lens would focus at or before d. Vergence of thin lenses, as in retzlaff1990.
    """
    length, position = real(length), real(position)
    front = chain(refract(refraction), travel(vertex), refract(cornea), travel(position, CONSTANTS.index_aqueous))
    height, slope = front[..., 0, 0], front[..., 1, 0]
    behind = (length - position) / (1000 * CONSTANTS.index_aqueous)
    # The parallel ray, bent by P at its height, must reach the axis: height + behind (slope - P height) = 0.
    power = (height / behind + slope) / height
    converging = chain(refract(refraction), travel(vertex), refract(cornea))
    reaches_lens = (converging[..., 1, 0] < 0) & (height > 0)
    return np.where(position_is_valid(length, position) & reaches_lens, power, np.nan)


def plano_power(cornea: ArrayLike, length: ArrayLike, position: ArrayLike) -> Array:
    """Exact lens power (D) for a refraction of 0. As lens_power."""
    return lens_power(cornea, length, position, 0.0)


@np.errstate(invalid="ignore", divide="ignore", over="ignore")
def refraction(
    cornea: ArrayLike,
    length: ArrayLike,
    position: ArrayLike,
    power: ArrayLike,
    vertex: ArrayLike = "vertex_of_formulas",
) -> Array:
    """Spectacle refraction (D, at vertex mm) of an eye with a lens power (D); vertex 0 gives it at the cornea.

    NaN as in lens_power. Backward vergence of thin lenses, as in retzlaff1990.
    """
    length, position = real(length), real(position)
    behind = travel(length - position, CONSTANTS.index_aqueous)
    inside = chain(refract(power), behind)
    eye = chain(travel(vertex), refract(cornea), travel(position, CONSTANTS.index_aqueous), refract(power), behind)
    # Light of vergence R at height 1 has slope -R; it ends on the axis when A - B R = 0.
    focus = eye[..., 0, 0] / eye[..., 0, 1]
    converging_at_lens = inside[..., 0, 0] * inside[..., 0, 1] > 0
    return np.where(position_is_valid(length, position) & converging_at_lens, focus, np.nan)
