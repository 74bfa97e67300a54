"""The axial length that a formula takes in a long eye."""

import numpy as np
from numpy.typing import ArrayLike

from .constants import CONSTANTS
from .rays import Array, real

REGRESSION = {
    "SRK/T": (CONSTANTS.adjusted_srkt_slope, CONSTANTS.adjusted_srkt_offset),
    "Holladay 1": (CONSTANTS.adjusted_holladay_slope, CONSTANTS.adjusted_holladay_offset),
    "Hoffer Q": (CONSTANTS.adjusted_hoffer_slope, CONSTANTS.adjusted_hoffer_offset),
    "Haigis": (CONSTANTS.adjusted_haigis_slope, CONSTANTS.adjusted_haigis_offset),
    "T2": (CONSTANTS.adjusted_srkt_slope, CONSTANTS.adjusted_srkt_offset),
}


def share_of_adjustment(axial_length: ArrayLike) -> Array:
    """How much of the adjustment counts: 0 to 25 mm, 1 from 26 mm on, straight between (a setting). NaN when absent."""
    return np.interp(real(axial_length), [CONSTANTS.adjusted_from, CONSTANTS.adjusted_from + 1], [0.0, 1.0])


@np.errstate(invalid="ignore")
def adjusted_length_wang2011(formula: str, axial_length: ArrayLike) -> Array:
    """Length (mm) in place of a measured one (mm) in a formula (one of REGRESSION; KeyError otherwise), never longer.

    wang2011, coefficients from memory; the printed line jumps at 25 mm, so it is approached over one millimetre.
    """
    length = real(axial_length)
    surplus = np.maximum(0.0, length - np.polyval(REGRESSION[formula], length))
    return length - share_of_adjustment(length) * surplus
