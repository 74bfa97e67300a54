"""The axial length that a formula takes in a long eye.

An echo: straight lines, the share between two limits and the lesser length as the cells compute them.
"""

import numpy as np
from numpy.typing import ArrayLike

from .constants import CONSTANTS
from .rays import Array, real

REGRESSION = {  # whose constants a formula takes
    "SRK/T": "srkt",
    "Holladay 1": "holladay",
    "Hoffer Q": "hoffer",
    "Haigis": "haigis",
    "T2": "srkt",
}


def regression(formula: str) -> tuple[float, float]:
    """Slope and offset (mm) of a formula (one of REGRESSION; KeyError otherwise); wang2011, from memory."""
    of = REGRESSION[formula]
    return getattr(CONSTANTS, f"adjusted_{of}_slope"), getattr(CONSTANTS, f"adjusted_{of}_offset")


def share_of_adjustment(axial_length: ArrayLike) -> Array:
    """How much of the adjustment counts: 0 to 25 mm, 1 from 26 mm on, straight between (a setting). NaN when absent."""
    return np.interp(real(axial_length), [CONSTANTS.adjusted_from, CONSTANTS.adjusted_from + 1], [0.0, 1.0])


@np.errstate(invalid="ignore")
def adjusted_length_wang2011(formula: str, axial_length: ArrayLike) -> Array:
    """Length (mm) in place of a measured one (mm) in a formula (one of REGRESSION; KeyError otherwise), never longer.

    wang2011, coefficients from memory; the printed line jumps at 25 mm, so it is approached over one millimetre.
    """
    length = real(axial_length)
    surplus = np.maximum(0.0, length - np.polyval(regression(formula), length))
    return length - share_of_adjustment(length) * surplus
