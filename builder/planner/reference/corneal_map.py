"""A typed corneal map: waves of a ring by least squares, mean over a disc by exact integration of straight lines.

Axial power in D, half-meridians 0 to 330 degrees by 30 as the last axis. Waves: textbook Fourier analysis,
no single source.

Another method: least squares for the waves, where the cells take sums of products; Gauss-Legendre for the disc, where
they take fixed weights.
An echo: unlike_neighbours, a difference from a mean as the cells compute it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .rays import Array, real

DEGREES = np.arange(0.0, 360.0, 30.0)
ORDERS = 5


class RingWaves(NamedTuple):
    """Mean (D) and, by order 1 to 5 on the last axis, cosine and sine amplitudes (D)."""

    mean: Array
    cosine: Array
    sine: Array


def _design() -> Array:
    angles = np.deg2rad(DEGREES)
    waves = [wave(order * angles) for order in range(1, ORDERS + 1) for wave in (np.cos, np.sin)]
    return np.stack([np.ones(len(DEGREES)), *waves], axis=-1)


def ring_waves(powers: ArrayLike) -> RingWaves:
    """Waves of rings (..., 12), D, by least squares; NaN for a ring that is not complete."""
    rings = real(powers)
    complete: NDArray[np.bool_] = ~np.any(np.isnan(rings), axis=-1)
    flat = np.where(complete[..., None], rings, 0.0).reshape(-1, len(DEGREES))
    fitted = np.linalg.lstsq(_design(), flat.T, rcond=None)[0].T.reshape(*rings.shape[:-1], 1 + 2 * ORDERS)
    known = real(np.where(complete[..., None], fitted, np.nan))
    return RingWaves(known[..., 0], known[..., 1::2], known[..., 2::2])


def disc_mean(center: ArrayLike, ring_means: ArrayLike) -> Array:
    """Area mean (D) of a disc from the centre and the means of rings 0.5 mm of radius apart (last axis, outward).

    Between rings the mean runs straight in r; mean = 2/R^2 integral F r dr, by two-point Gauss-Legendre in each step,
    which is exact for a line times r. NaN when a value is absent.
    """
    means = np.concatenate([real(center)[..., None], real(ring_means)], axis=-1)
    nodes = np.array([-1.0, 1.0]) / np.sqrt(3.0)
    total = np.zeros(means.shape[:-1])
    for inner in range(means.shape[-1] - 1):
        for node in nodes:
            share = (1 + node) / 2
            power = means[..., inner] * (1 - share) + means[..., inner + 1] * share
            total = total + power * (inner + share) / 2
    return 2 * total / (means.shape[-1] - 1) ** 2


def unlike_neighbours(powers: ArrayLike) -> Array:
    """How far (D) each value of a ring (..., 12) lies from the mean of its two neighbours. NaN when one is absent."""
    rings = real(powers)
    return np.abs(rings - (np.roll(rings, 1, axis=-1) + np.roll(rings, -1, axis=-1)) / 2)
