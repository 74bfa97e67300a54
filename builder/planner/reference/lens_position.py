"""Where published formulas place the lens: d, mm behind the front of the cornea, with every step on the way.

position_k is the K for the lens position (D, 1.3375), which need not be the K of the vergence (aramberri2003).
All equations are written from memory and cross-checked; lengths in mm.

Another method: cap_height by the half-angle of the cap, where the cells take a square root; tan^2 K of Hoffer Q by the
cosine, where they take the tangent.
An echo: the other terms and the regressions of the formulas as the cells compute them.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .constants import CONSTANTS
from .keratometry import radius_of_k
from .rays import Array, real


class SrktPosition(NamedTuple):
    """SRK/T, mm: corrected length LCOR, corneal width Cw, Cw/r (the root is real up to 2), corneal height H, d."""

    corrected_length: Array
    width: Array
    width_ratio: Array
    dome_height: Array
    position: Array


class Holladay1Position(NamedTuple):
    """Holladay 1, mm: radius used Rag, chamber width AG, position d."""

    dome_radius: Array
    chamber: Array
    position: Array


class HofferQPosition(NamedTuple):
    """Hoffer Q: length used a (mm), sign M, turning length G (mm), tan^2 K, bent and straight term, position d (mm)."""

    length: Array
    sign: Array
    turn: Array
    cornea_term: Array
    length_term: Array
    line_term: Array
    position: Array


class HaigisPosition(NamedTuple):
    """Haigis, mm: position d."""

    position: Array


class T2Position(NamedTuple):
    """T2, mm: corneal height H2 by regression, position d."""

    height: Array
    position: Array


@np.errstate(invalid="ignore", divide="ignore")
def cap_height(radius: ArrayLike, width: ArrayLike) -> Array:
    """Height (mm) of a spherical cap of radius and width (mm), by its half-angle. NaN when absent or width > 2 r."""
    sine = real(width) / (2 * real(radius))
    half_angle = np.arcsin(np.where(2 * sine <= 2 + CONSTANTS.rounding_slack, np.minimum(sine, 1), np.nan))
    return 2 * real(radius) * np.sin(half_angle / 2) ** 2


@np.errstate(invalid="ignore", divide="ignore")
def position_srkt_retzlaff1990(axial_length: ArrayLike, position_k: ArrayLike, a_constant: ArrayLike) -> SrktPosition:
    """SRK/T position from axial length (mm), position K (D) and A (retzlaff1990).

    Height and position are NaN where Cw > 2 r; what needs it is NaN when an input is absent. Departs from the paper:
    the K may be another than that of the vergence (aramberri2003), and the height comes from the half-angle of the cap.
    """
    length, k = real(axial_length), real(position_k)
    quadratic = [CONSTANTS.srkt_long_square, CONSTANTS.srkt_long_slope, CONSTANTS.srkt_long_offset]
    corrected = np.where(length > CONSTANTS.srkt_long_from, np.polyval(quadratic, length), length)
    width = CONSTANTS.srkt_width_offset + CONSTANTS.srkt_width_length * corrected + CONSTANTS.srkt_width_power * k
    radius = radius_of_k(k)
    height = cap_height(radius, width)
    return SrktPosition(corrected, width, width / radius, height, height + _offset_of_a(a_constant))


@np.errstate(invalid="ignore", divide="ignore")
def position_holladay1988(
    axial_length: ArrayLike, position_k: ArrayLike, surgeon_factor: ArrayLike
) -> Holladay1Position:
    """Holladay 1 position from axial length (mm), position K (D) and surgeon factor (mm) (holladay1988).

    NaN when an input is absent. Departs from the paper: the K may be another than that of the vergence (aramberri2003).
    """
    radius = np.maximum(radius_of_k(position_k), CONSTANTS.holladay_least_radius)
    scaled = CONSTANTS.holladay_chamber_width * real(axial_length) / CONSTANTS.holladay_mean_length
    width = np.minimum(scaled, CONSTANTS.holladay_widest_chamber)
    position = CONSTANTS.holladay_thickness + cap_height(radius, width) + real(surgeon_factor)
    return Holladay1Position(radius, width, position)


@np.errstate(invalid="ignore", divide="ignore")
def position_hoffer1993(axial_length: ArrayLike, position_k: ArrayLike, pacd: ArrayLike) -> HofferQPosition:
    """Hoffer Q position from axial length (mm), position K (D) and pACD (mm); tangents of DEGREES (hoffer1993).

    The length counts from hoffer_shortest to hoffer_longest. NaN when an input is absent. Departs from the paper: the K
    may be another than that of the vergence (aramberri2003).
    """
    used = np.clip(real(axial_length), CONSTANTS.hoffer_shortest, CONSTANTS.hoffer_longest)
    short = used <= CONSTANTS.hoffer_short_to
    sign = np.where(np.isnan(used), np.nan, np.where(short, 1.0, -1.0))
    turn = np.where(np.isnan(used), np.nan, np.where(short, CONSTANTS.hoffer_short_turn, CONSTANTS.hoffer_long_turn))
    tangent_squared = 1 / np.cos(np.deg2rad(real(position_k))) ** 2 - 1
    bent = np.tan(np.deg2rad(CONSTANTS.hoffer_bend * (turn - used) ** 2))
    bend = CONSTANTS.hoffer_bend * sign * (CONSTANTS.hoffer_mean_length - used) ** 2 * bent
    linear = CONSTANTS.hoffer_length_slope * (used - CONSTANTS.hoffer_mean_length)
    position = CONSTANTS.hoffer_offset + real(pacd) + linear + tangent_squared + bend - CONSTANTS.hoffer_shift
    return HofferQPosition(used, sign, turn, tangent_squared, bend, linear, position)


@np.errstate(invalid="ignore")
def position_haigis2000(
    axial_length: ArrayLike,
    chamber_depth: ArrayLike,
    a0: ArrayLike,
    a1: ArrayLike = "haigis_a1_default",
    a2: ArrayLike = "haigis_a2_default",
) -> HaigisPosition:
    """Haigis position from axial length and ACD (mm, epithelium to lens), constants a0 (mm), a1, a2 (haigis2000).

    It takes no K. NaN when an input is absent.
    """
    return HaigisPosition(real(a0) + real(a1) * real(chamber_depth) + real(a2) * real(axial_length))


@np.errstate(invalid="ignore")
def position_sheard2010(axial_length: ArrayLike, position_k: ArrayLike, a_constant: ArrayLike) -> T2Position:
    """T2 position from axial length (mm), position K (D) and A (sheard2010, from memory).

    The corneal height of SRK/T by a regression, which has no root. NaN when an input is absent. Departs from the paper:
    the K may be another than that of the vergence (aramberri2003).
    """
    factors = [CONSTANTS.t2_offset, CONSTANTS.t2_per_length, CONSTANTS.t2_per_dioptre]
    parts = np.broadcast_arrays(1.0, real(axial_length), real(position_k))
    height = np.tensordot(factors, np.stack(parts), axes=1)
    return T2Position(height, height + _offset_of_a(a_constant))


def _offset_of_a(a_constant: ArrayLike) -> Array:
    """What SRK/T and T2 add to the corneal height, mm: the depth that A stands for, less the mean height."""
    depth = np.polyval([CONSTANTS.srkt_depth_slope, CONSTANTS.srkt_depth_offset], real(a_constant))
    return depth - CONSTANTS.srkt_depth_height


def surgeon_factor_holladay1988(a_constant: ArrayLike) -> Array:
    """Surgeon factor (mm) of Holladay 1 from an A constant. NaN when absent (holladay1988, from memory)."""
    return np.polyval([CONSTANTS.surgeon_factor_slope, CONSTANTS.surgeon_factor_offset], real(a_constant))


def pacd_hoffer1993(a_constant: ArrayLike) -> Array:
    """pACD (mm) of Hoffer Q from an A constant. NaN when absent (hoffer1993, from memory)."""
    return np.polyval([CONSTANTS.hoffer_depth_slope, CONSTANTS.hoffer_depth_offset], real(a_constant))


def a0_haigis2000(a_constant: ArrayLike) -> Array:
    """a0 (mm) of Haigis from an ultrasound-type A constant. NaN when absent (haigis2000, from memory)."""
    return np.polyval([CONSTANTS.haigis_a0_slope, CONSTANTS.haigis_a0_offset], real(a_constant))
