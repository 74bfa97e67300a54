"""How wrong a prediction may go: chances by a normal curve. Source: brogan2019 (heavier tails).

Another method: the complementary error function, where the cells ask NORMSDIST.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from .rays import Array, real


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
