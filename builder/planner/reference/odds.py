"""How wrong a prediction may go: slopes of the vergence, error budget, chances; and two other ways to the same numbers.

Refraction in the spectacle plane with d held. Sources: norrby2008 (shares of error), brogan2019 (heavier tails).
"""

from __future__ import annotations

import math
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from .constants import CONSTANTS
from .rays import Array, real
from .vectors import ComplexArray

Numbers = TypeVar("Numbers", Array, ComplexArray)


class Slopes(NamedTuple):
    """Change of the refraction (D) for 1 mm of optical length, 1 D of Kc, 1 mm of position, 1 D of lens."""

    length: Array
    cornea: Array
    position: Array
    power: Array


def _refraction(length: Numbers, cornea: Numbers, position: Numbers, power: Numbers) -> Numbers:
    """Spectacle refraction (D) by vergence, in real or complex numbers."""
    light = 1000 * CONSTANTS.index_aqueous
    front = light / (length - position) - power
    at_cornea = light * front / (light + position * front) - cornea
    return at_cornea / (1 + CONSTANTS.vertex_of_formulas * at_cornea / 1000)


def slopes_by_complex_step(length: ArrayLike, cornea: ArrayLike, position: ArrayLike, power: ArrayLike) -> Slopes:
    """Exact slopes by the complex-step derivative: no difference of near numbers. NaN when one is absent."""
    eye = [real(value).astype(complex) for value in (length, cornea, position, power)]
    tiny = 1e-30
    found = []
    for n in range(len(eye)):
        moved = [value + (1j * tiny if n == m else 0) for m, value in enumerate(eye)]
        found.append(_refraction(*moved).imag / tiny)
    return Slopes(*found)


def normal_cdf(z: ArrayLike) -> Array:
    """Share of a normal curve below z. NaN when absent. Textbook."""
    return np.vectorize(lambda x: 0.5 * math.erfc(-x / math.sqrt(2)), otypes=[float])(real(z))


def chance_above(limit: float, mean: ArrayLike, sd: ArrayLike) -> Array:
    """Chance (0 to 1) that a refraction of mean and sd (D) ends above a limit (D), by a normal curve.

    NaN when one is absent. Real errors have heavier tails (brogan2019).
    """
    return normal_cdf((real(mean) - limit) / real(sd))


def chance_within(reach: float, sd: ArrayLike) -> Array:
    """Chance (0 to 1) of ending within reach (D) of the prediction, sd in D, by a normal curve. NaN when absent."""
    return normal_cdf(reach / real(sd)) - normal_cdf(-reach / real(sd))


def simulate(
    length: float, cornea: float, position: float, power: float, sds: tuple[float, ...], eyes: int, seed: int
) -> Array:
    """Refractions (D) of simulated eyes: length, cornea, position, power and refraction scatter by sds, fixed seed."""
    draw = np.random.default_rng(seed)
    scattered = [
        value + sd * draw.standard_normal(eyes)
        for value, sd in zip((length, cornea, position, power), sds, strict=False)
    ]
    return _refraction(*scattered) + sds[-1] * draw.standard_normal(eyes)
