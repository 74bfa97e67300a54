"""Corneal power after laser surgery on a regular cornea. K in D for the index 1.3375, before and after the rule.

Another method: k_history takes refractions to the cornea by vergence matrices, where the cells divide by 1 less vertex
times power.
An echo: the published lines and their ranges as the cells compute them.
"""

import numpy as np
from numpy.typing import ArrayLike

from .constants import CONSTANTS
from .keratometry import keratometric_power_of_radius, radius_of_k
from .rays import Array, real
from .vectors import spectacle_to_cornea


@np.errstate(invalid="ignore")
def k_shammas2003(k: ArrayLike) -> Array:
    """K after myopic laser, no history (shammas2003).

    NaN when absent or at or above shammas_myopic_below, a setting of ours: the line would add power there.
    """
    k = real(k)
    corrected = np.polyval([CONSTANTS.shammas_myopic_slope, -CONSTANTS.shammas_myopic_offset], k)
    return np.where(k < CONSTANTS.shammas_myopic_below - CONSTANTS.rounding_slack, corrected, np.nan)


@np.errstate(invalid="ignore")
def k_shammas2013(k: ArrayLike) -> Array:
    """K after hyperopic laser, no history (shammas2013).

    NaN when absent or at or below shammas_hyperopic_above, a setting of ours.
    """
    k = real(k)
    corrected = np.polyval([CONSTANTS.shammas_hyperopic_slope, -CONSTANTS.shammas_hyperopic_offset], k)
    return np.where(k > CONSTANTS.shammas_hyperopic_above + CONSTANTS.rounding_slack, corrected, np.nan)


@np.errstate(invalid="ignore", divide="ignore")
def radius_haigis2008(radius: ArrayLike) -> Array:
    """Corrected front radius (mm) after myopic laser from the measured radius (mm) (haigis2008). NaN when absent."""
    offset = CONSTANTS.haigis_myopic_offset - CONSTANTS.haigis_myopic_shift
    return CONSTANTS.haigis_index_numerator / np.polyval([CONSTANTS.haigis_myopic_slope, offset], real(radius))


@np.errstate(invalid="ignore", divide="ignore")
def k_haigis2008(k: ArrayLike) -> Array:
    """K after myopic laser, no history (haigis2008). NaN when absent or outside haigis_myopic_lowest … highest."""
    k = real(k)
    corrected = keratometric_power_of_radius(radius_haigis2008(radius_of_k(k)))
    low, high, slack = CONSTANTS.haigis_myopic_lowest, CONSTANTS.haigis_myopic_highest, CONSTANTS.rounding_slack
    inside = (k >= low - slack) & (k <= high + slack)
    return np.where(inside, corrected, np.nan)


@np.errstate(invalid="ignore")
def k_wang2004(k: ArrayLike) -> Array:
    """K after myopic laser, no history (wang2004, from memory). NaN when absent or at or above wang_below."""
    k = real(k)
    below = k < CONSTANTS.wang_below - CONSTANTS.rounding_slack
    return np.where(below, np.polyval([CONSTANTS.wang_slope, -CONSTANTS.wang_offset], k), np.nan)


def k_history(
    k_before: ArrayLike,
    refraction_before: ArrayLike,
    refraction_after: ArrayLike,
    vertex: ArrayLike = "default_vertex",
) -> Array:
    """K before laser less the change of the mean refraction (spectacles, D, vertex in mm) at the cornea.

    NaN when one is absent. Textbook, no single source; written from memory.
    """
    before = spectacle_to_cornea(refraction_before, 0, np.nan, vertex).sphere
    after = spectacle_to_cornea(refraction_after, 0, np.nan, vertex).sphere
    return real(k_before) - (after - before)
