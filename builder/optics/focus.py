"""What refraction a traced wave asks for, under two meanings of focus.

`wavefront`: the quadratic wave that lies closest to the traced one by least squares of optical path. `spot`: the
correction that leaves the smallest spot, root mean square, which is least squares of the rays' slopes. Where the
cornea is regular both say the same; in a cone they differ, and no formula can know which of them a patient would pick.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .eye import Eye, Pupil, batches, trace_out
from .rays import Rays
from .surfaces import Array


class Refraction(NamedTuple):
    """A refraction at the corneal plane as power vector (D), shape (eyes,): correction wanted, plus is hyperopic."""

    mean: Array
    j0: Array
    j45: Array


MEANINGS = ("wavefront", "spot")


def refraction(eye: Eye, pupil: Pupil, meaning: str, rays: int = 200) -> Refraction:
    """The refraction of eyes through a pupil. Raises KeyError for an unknown meaning."""
    found = [BY_MEANING[meaning](trace_out(eye.some(which), pupil.some(which), rays)) for which in batches(len(eye))]
    return Refraction(*(np.concatenate(part) for part in zip(*found, strict=True)))


def by_wavefront(rays: Rays) -> Refraction:
    """The closest quadratic wave: S = s0 + tx x + ty y + (xx x^2 + 2 xy x y + yy y^2)/2000, powers in D."""
    x, y = rays.x, rays.y
    terms = np.stack([np.ones_like(x), x, y, x * x / 2, x * y, y * y / 2], axis=1)
    fitted = _least_squares(terms, rays.path - rays.path.mean(axis=1, keepdims=True))
    xx, xy, yy = (1000 * fitted[:, n] for n in (3, 4, 5))
    return _vector(xx, xy, yy)


def by_spot(rays: Rays) -> Refraction:
    """The correction under which the rays' slopes are closest to one another: one symmetric matrix for both slopes."""
    x, y = rays.x, rays.y
    along, zero, one = np.sqrt(1 - rays.l**2 - rays.m**2), np.zeros_like(x), np.ones_like(x)
    for_x, for_y = np.stack([one, zero, x, y, zero], axis=1), np.stack([zero, one, zero, x, y], axis=1)
    terms = np.concatenate([for_x, for_y], axis=2)
    fitted = _least_squares(terms, np.concatenate([rays.l / along, rays.m / along], axis=1))
    return _vector(*(1000 * fitted[:, n] for n in (2, 3, 4)))


BY_MEANING = {"wavefront": by_wavefront, "spot": by_spot}


def _least_squares(terms: Array, wanted: Array) -> Array:
    """Coefficients (eyes, terms) of terms (eyes, terms, rays) that come closest to what is wanted (eyes, rays)."""
    normal = terms @ terms.transpose(0, 2, 1)
    return np.linalg.solve(normal, terms @ wanted[..., None])[..., 0]


def _vector(xx: Array, xy: Array, yy: Array) -> Refraction:
    """A matrix of powers as M, J0, J45: the power along a meridian u is M - J0 cos 2u - J45 sin 2u (thibos1997)."""
    return Refraction((xx + yy) / 2, (yy - xx) / 2, -xy)
