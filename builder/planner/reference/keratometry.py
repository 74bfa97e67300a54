"""Corneal power: what keratometers read, what front and back do together, and the K that stands for it.

Keratometric K is in D for the index 1.3375. Sources: gullstrand, lioubrennan1997, pinero2014.

Another method: gaussian_power_gullstrand, and all that builds on it, by ray-transfer matrices, where the cells have the
equation of a thick lens.
An echo: powers from radii and indices, means and differences as the cells compute them.
"""

import numpy as np
from numpy.typing import ArrayLike

from .constants import CONSTANTS
from .rays import Array, chain, real, refract, travel


@np.errstate(invalid="ignore", divide="ignore")
def keratometric_power(reading: ArrayLike, index: ArrayLike = "keratometric_index") -> Array:
    """K (D, 1.3375) of a reading in D from a device with another index. NaN when absent. Definition."""
    return real(reading) * ((CONSTANTS.keratometric_index - 1) / (real(index) - 1))


@np.errstate(invalid="ignore", divide="ignore")
def keratometric_power_of_radius(radius: ArrayLike) -> Array:
    """K (D, 1.3375) of a front radius in mm. NaN when absent. Definition."""
    return 1000 * (CONSTANTS.keratometric_index - 1) / real(radius)


@np.errstate(invalid="ignore", divide="ignore")
def radius_of_k(k: ArrayLike) -> Array:
    """Front radius (mm) of a K (D, 1.3375). NaN when absent. Definition."""
    return 1000 * (CONSTANTS.keratometric_index - 1) / real(k)


def light_numbers() -> dict[str, float]:
    """What formulas need again and again: how far 1 D focuses in aqueous (mm), and the K of a radius of 1 mm (D)."""
    return {
        "aqueous_numerator": 1000 * CONSTANTS.index_aqueous,
        "radius_numerator": float(keratometric_power_of_radius(1.0)),
    }


@np.errstate(invalid="ignore", divide="ignore")
def front_power(radius: ArrayLike, index_cornea: ArrayLike = "index_cornea") -> Array:
    """Power (D) of the front surface, radius in mm, air in front. NaN when absent (gullstrand)."""
    return 1000 * (real(index_cornea) - 1) / real(radius)


@np.errstate(invalid="ignore", divide="ignore")
def back_power(
    radius: ArrayLike,
    index_cornea: ArrayLike = "index_cornea",
    index_aqueous: ArrayLike = "index_aqueous",
) -> Array:
    """Power (D, negative) of the back surface, radius in mm (plus: bulging forward). NaN when absent (gullstrand)."""
    return 1000 * (real(index_aqueous) - real(index_cornea)) / real(radius)


@np.errstate(invalid="ignore", divide="ignore")
def gaussian_power_gullstrand(
    front_radius: ArrayLike,
    back_radius: ArrayLike,
    thickness: ArrayLike = "default_thickness",
    index_cornea: ArrayLike = "index_cornea",
    index_aqueous: ArrayLike = "index_aqueous",
) -> Array:
    """Equivalent power (D) of a thick cornea, radii and thickness in mm, by ray-transfer matrices (gullstrand).

    NaN when one is absent: whoever lacks a thickness passes default_thickness and says so.
    """
    cornea = chain(
        refract(front_power(front_radius, index_cornea)),
        travel(thickness, index_cornea),
        refract(back_power(back_radius, index_cornea, index_aqueous)),
    )
    return -cornea[..., 1, 0]


def standard_index_lioubrennan1997() -> Array:
    """The index that would give a normal cornea its true equivalent power from its front radius (lioubrennan1997)."""
    radius = CONSTANTS.normal_front_radius
    power = gaussian_power_gullstrand(radius, CONSTANTS.normal_back_radius, CONSTANTS.normal_thickness)
    return 1 + power * radius / 1000


def equivalent_k(corneal_power: ArrayLike) -> Array:
    """The K (D, 1.3375) at which a normal cornea has this equivalent power (D). NaN when absent (lioubrennan1997)."""
    return real(corneal_power) * (CONSTANTS.keratometric_index - 1) / (standard_index_lioubrennan1997() - 1)


@np.errstate(invalid="ignore")
def back_corrected_power(
    front_k: ArrayLike,
    back_flat_radius: ArrayLike,
    back_steep_radius: ArrayLike,
    thickness: ArrayLike = "default_thickness",
) -> Array:
    """Equivalent power (D) of a cornea from its mean front K (D, 1.3375), two back radii and thickness (mm).

    The back is taken at the mean of its radii. NaN when one is absent (gullstrand).
    """
    back_radius = (real(back_flat_radius) + real(back_steep_radius)) / 2
    return gaussian_power_gullstrand(radius_of_k(front_k), back_radius, thickness)


def back_corrected_k(
    front_k: ArrayLike,
    back_flat_radius: ArrayLike,
    back_steep_radius: ArrayLike,
    thickness: ArrayLike = "default_thickness",
) -> Array:
    """K (D, 1.3375) corrected for the measured back surface; a normal eye keeps its K. As back_corrected_power."""
    return equivalent_k(back_corrected_power(front_k, back_flat_radius, back_steep_radius, thickness))


def total_power_equivalent_k(total_flat: ArrayLike, total_steep: ArrayLike) -> Array:
    """K (D, index 1.3375) that stands for a device's total corneal power, flat and steep (D).

    That power is the equivalent power, not the back-vertex power. NaN when one is absent (lioubrennan1997)."""
    return equivalent_k((real(total_flat) + real(total_steep)) / 2)


def over_reading_pinero2014(k: ArrayLike, corneal_power: ArrayLike) -> Array:
    """K minus equivalent power (D): what keratometry reads too much, in a normal eye about 1.2 D. NaN when absent."""
    return real(k) - real(corneal_power)


def over_reading_excess(k: ArrayLike, corneal_power: ArrayLike) -> Array:
    """What of the over-reading (D) exceeds a normal eye's share of K, and would turn into hyperopia. NaN when absent.

    The share is that of the normal cornea, about 2.7 % (lioubrennan1997).
    """
    share = 1 - (standard_index_lioubrennan1997() - 1) / (CONSTANTS.keratometric_index - 1)
    return over_reading_pinero2014(k, corneal_power) - share * real(k)
