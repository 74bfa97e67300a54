"""Rays: where they meet a surface, how they bend there, what a lens does to a wave from the retina.

Positions in mm. The direction of a ray is a vector as long as the refractive index of the medium it runs in: then
Snell's law only adds to it along the normal. Shapes: (2, eyes, rays) across the axis, (eyes, rays) along it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .surfaces import Array, Surface, apply, column, dot, symmetric

STEPS = 12  # of Newton's method at most: two are enough on a cornea
SHORT = 1e-6  # mm: it converges by squares, so that after a step as short as this 1e-13 mm is left to go
SOME = 1e-300  # mm: nothing, but it may stand under a 0


class Rays(NamedTuple):
    """Points (mm), directions (as long as the index) and optical path so far (mm)."""

    place: Array  # (2, eyes, rays)
    z: Array
    across: Array  # (2, eyes, rays)
    along: Array
    path: Array


def parallel(x: ArrayLike, y: ArrayLike, eyes: int = 1) -> Rays:
    """Rays (eyes, rays) in air along the axis, through points x, y (rays,), mm, of the plane z = 0."""
    flat = np.broadcast_arrays(np.asarray(x, np.float64), y)
    place = np.repeat(np.stack(flat)[:, None], eyes, axis=1)
    zero = np.zeros(place.shape[1:])
    return Rays(place, zero, 0 * place, zero + 1.0, zero)


def to_plane(rays: Rays, z: float, index: float) -> Rays:
    """The rays carried on, or back, to a plane at z mm in a medium."""
    way = (z - rays.z) / rays.along
    return rays._replace(
        place=rays.place + way * rays.across, z=np.full_like(way, z), path=rays.path + index * index * way
    )


@np.errstate(invalid="ignore", over="ignore")
def meet(rays: Rays, surface: Surface, index: float) -> tuple[Rays, Array]:
    """The rays where they meet a surface, and its slopes there, by Newton's method; NaN where a ray misses it."""
    tilt = rays.across / rays.along
    foot = tilt * (surface.depth - rays.z)
    foot += rays.place  # where each crosses the plane of the vertex
    if surface.aside is not None:
        foot -= surface.aside
    z = surface.guess(foot)
    slope, step = np.zeros(1), np.ones(1)
    for number in range(STEPS):
        points = tilt * z
        points += foot
        sag, here = surface.at(points)
        sag -= z
        steep = dot(here, tilt)
        np.subtract(1, steep, out=steep)
        sag /= steep
        before, step = step, sag
        z += step
        if number and np.fmax.reduce(np.abs(step), axis=None, initial=0.0) < SHORT:
            # The slopes of the point just left, carried on to the new one in a straight line from the one before.
            before += SOME
            np.subtract(here, slope, out=slope)
            slope *= np.divide(step, before, out=before)
            slope += here
            break
        slope = here
    place = tilt * z
    place += foot
    if surface.aside is not None:
        place += surface.aside
    z += surface.depth
    path = z - rays.z
    path *= index * index
    path /= rays.along
    path += rays.path
    return Rays(place, z, rays.across, rays.along, path), slope


@np.errstate(invalid="ignore")
def refract(rays: Rays, slope: Array, before: float, behind: float) -> Rays:
    """The rays bent where they stand by a surface of those slopes, from one index into another (Snell's law).

    With the normal N = (-slope, 1): the part of the direction across N stays, its length becomes the index behind.
    NaN where all light is thrown back.
    """
    normal = dot(slope, slope)
    normal += 1
    through_it = dot(slope, rays.across)
    np.subtract(rays.along, through_it, out=through_it)
    turn = normal * (behind * behind - before * before)
    turn += through_it * through_it
    np.sqrt(turn, out=turn)
    np.copysign(turn, through_it, out=turn)
    turn -= through_it
    turn /= normal
    across = turn * slope
    np.subtract(rays.across, across, out=across)
    turn += rays.along
    return rays._replace(across=across, along=turn)


def through(rays: Rays, surface: Surface, before: float, behind: float) -> Rays:
    """The rays on to a surface and bent by it, from one index into another."""
    met, slope = meet(rays, surface, before)
    return refract(met, slope, before, behind)


def power(mean: ArrayLike, cylinder: ArrayLike = 0.0, strongest: ArrayLike = 0.0) -> Array:
    """Power matrices (eyes, 2, 2), D, of mean and cylinder (D) by the meridian (degrees) of the strongest power."""
    half = column(cylinder) / 2
    return symmetric(column(mean) + half, column(mean) - half, np.broadcast_to(column(strongest), half.shape))


def wave_from(vergence: Array, points: Array, z: Array, index: float) -> Rays:
    """The rays at points of a plane z of a wave whose vergence is a matrix (eyes, 2, 2), D, above 0 where it converges.

    Light runs towards -z. The wave is exact where both principal powers are one: its rays meet in one point. Otherwise
    it is the smooth surface that has these two powers, with rays at right angles to it, so that paths stay true.
    """
    # With V over n, path S = -n b / (1 + w), b = x'Vx, w = sqrt(1 + |Vx|^2); for one power, n f - n sqrt(f^2 + r^2).
    matrix = vergence / (1000 * index)
    bent = apply(np.concatenate([matrix, matrix @ matrix], axis=1), points)
    across, twice = bent[:2], bent[2:]
    root = dot(across, across)
    root += 1
    np.sqrt(root, out=root)
    share = root + 1
    np.reciprocal(share, out=share)
    bulge = dot(across, points)
    bulge *= share
    root /= share
    twice *= np.divide(bulge, root, out=root)
    share *= -2
    across *= share
    across += twice
    across *= index
    along = dot(across, across)
    np.subtract(index**2, along, out=along)
    np.sqrt(along, out=along)
    bulge *= -index
    return Rays(points, z, across, np.negative(along, out=along), bulge)
