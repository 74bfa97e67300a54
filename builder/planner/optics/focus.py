"""What refraction a traced wave asks for, under two meanings of focus.

`wavefront`: the quadratic wave that lies closest to the traced one by least squares of optical path. `spot`: the
correction that leaves the smallest spot, root mean square, which is least squares of the rays' slopes. Where the
cornea is regular both say the same; in a cone they differ, and no formula can know which of them a patient would pick.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from .eye import RAYS, Eye, Pupil, batches, trace_out
from .rays import Rays
from .surfaces import Array


class Refraction(NamedTuple):
    """A refraction at the corneal plane as power vector (D), shape (eyes,): correction wanted, plus is hyperopic."""

    mean: Array
    j0: Array
    j45: Array


def refraction(eye: Eye, pupil: Pupil, meaning: str, rays: int = RAYS) -> Refraction:
    """The refraction of eyes through a pupil under a meaning of MEANINGS. KeyError for an unknown one.

    NaN for an eye of which any ray misses a surface.
    """
    return refractions(eye, pupil, (meaning,), rays)[meaning]


def refractions(
    eye: Eye, pupil: Pupil, meanings: tuple[str, ...] = ("wavefront", "spot"), rays: int = RAYS
) -> dict[str, Refraction]:
    """The refractions of eyes under several meanings, traced once."""
    found: dict[str, list[Refraction]] = {meaning: [] for meaning in meanings}
    for which in batches(len(eye)):
        traced = trace_out(eye.some(which), pupil.some(which), rays)
        for meaning in meanings:
            found[meaning].append(MEANINGS[meaning](traced))
    return {key: Refraction(*(np.concatenate(part) for part in zip(*each, strict=True))) for key, each in found.items()}


def by_wavefront(rays: Rays) -> Refraction:
    """The closest quadratic wave: S = s0 + tx x + ty y + (xx x^2 + 2 xy x y + yy y^2)/2, powers per mm."""
    x, y = rays.place
    terms = np.empty((6, *x.shape))
    terms[0], terms[1], terms[2] = 1, x, y
    np.multiply(x, x, out=terms[3])
    np.multiply(x, y, out=terms[4])
    np.multiply(y, y, out=terms[5])
    middle = rays.path - rays.path.mean(axis=1, keepdims=True)  # so that no digits are lost to the eye's whole length
    xx, xy, yy = _least_squares(terms, middle)[3:]
    return _vector(2 * xx, xy, 2 * yy)


def by_spot(rays: Rays) -> Refraction:
    """The correction under which the rays' slopes are closest to one another: one symmetric matrix for both slopes."""
    slope = rays.across / np.abs(rays.along)
    slope -= slope.mean(axis=2, keepdims=True)
    x, y = rays.place - rays.place.mean(axis=2, keepdims=True)
    terms = np.zeros((3, len(x), 2 * x.shape[1]))
    for_x, for_y = np.split(terms, 2, axis=2)
    for_x[0], for_x[1], for_y[1], for_y[2] = x, y, x, y
    return _vector(*_least_squares(terms, np.concatenate(list(slope), axis=1)))


MEANINGS: dict[str, Callable[[Rays], Refraction]] = {"wavefront": by_wavefront, "spot": by_spot}


def _least_squares(terms: Array, wanted: Array) -> Array:
    """Coefficients (terms, eyes) of terms (terms, eyes, rays) that come closest to what is wanted (eyes, rays)."""
    by_eye = terms.transpose(1, 0, 2)
    found = np.linalg.solve(by_eye @ by_eye.transpose(0, 2, 1), by_eye @ wanted[..., None])
    return np.asarray(found[..., 0].T, np.float64)


def _vector(xx: Array, xy: Array, yy: Array) -> Refraction:
    """A matrix of powers per mm as M, J0, J45: along a meridian u there is M + J0 cos 2u + J45 sin 2u (thibos1997)."""
    return Refraction(500 * (xx + yy), 500 * (xx - yy), 1000 * xy)
