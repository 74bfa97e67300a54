"""Rays: where they meet a surface, how they bend there, what a lens does to a wave from the retina.

Positions in mm, directions as unit vectors; light of a ray runs as its direction points. Shapes (eyes, rays).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .surfaces import Array, Surface

STEPS = 12  # of Newton's method at most: from a start on the vertex plane three or four are enough on a cornea
CLOSE = 1e-13  # mm


class Rays(NamedTuple):
    """Points (mm), directions (unit vectors) and optical path so far (mm)."""

    x: Array
    y: Array
    z: Array
    l: Array  # noqa: E741 - direction cosines are called l, m, n
    m: Array
    n: Array
    path: Array


def parallel(x: Array, y: Array, z: Array | float = -10.0) -> Rays:
    """Rays that enter along the axis at points x, y (mm) of a plane in front of the eye."""
    zero = np.zeros(np.broadcast(x, y).shape)
    return Rays(x + zero, y + zero, z + zero, zero, zero, zero + 1.0, zero)


def to_plane(rays: Rays, z: Array | float, index: float) -> Rays:
    """The rays carried on, or back, to a plane at z mm in a medium."""
    way = (z - rays.z) / rays.n
    x, y = rays.x + way * rays.l, rays.y + way * rays.m
    return Rays(x, y, z + 0 * way, rays.l, rays.m, rays.n, rays.path + index * way)


def meet(rays: Rays, surface: Surface, index: float) -> tuple[Rays, Array, Array]:
    """The rays where they meet a surface, and its slopes there, by Newton's method; NaN where a ray misses it."""
    rays = to_plane(rays, surface.depth, index)
    way = np.zeros(rays.x.shape)
    for _ in range(STEPS):
        x, y = rays.x + way * rays.l, rays.y + way * rays.m
        sag, slope_x, slope_y = surface.at(x, y)
        gap = rays.z + way * rays.n - sag
        step = gap / (rays.n - slope_x * rays.l - slope_y * rays.m)
        way = way - step
        largest = np.nanmax(np.abs(step), initial=0.0)
        if largest < 1e-7:  # it converges by squares: the next step would be below 1e-13 mm
            break
    x, y = rays.x + way * rays.l, rays.y + way * rays.m
    # Slopes of the last but one point are wrong by slope * 1e-14: one more look is not worth its time.
    if largest > CLOSE:
        _, slope_x, slope_y = surface.at(x, y)
    return rays._replace(x=x, y=y, z=rays.z + way * rays.n, path=rays.path + index * way), slope_x, slope_y


def refract(rays: Rays, slope_x: Array, slope_y: Array, before: float, behind: float) -> Rays:
    """The rays bent where they stand by a surface of those slopes, from one index into another (Snell's law)."""
    length = 1 / np.sqrt(1 + slope_x * slope_x + slope_y * slope_y)
    along = rays.n - slope_x * rays.l - slope_y * rays.m  # times `length`: the cosine to the normal (-sx, -sy, 1)
    sign = np.sign(along)
    cosine = along * length
    ratio = before / behind
    bent = sign * np.sqrt(1 - ratio * ratio * (1 - cosine * cosine))
    turn = (bent - ratio * cosine) * length
    return rays._replace(
        l=ratio * rays.l - turn * slope_x, m=ratio * rays.m - turn * slope_y, n=ratio * rays.n + turn
    )


def through(rays: Rays, surface: Surface, before: float, behind: float) -> Rays:
    """The rays on to a surface and bent by it."""
    met, slope_x, slope_y = meet(rays, surface, before)
    return refract(met, slope_x, slope_y, before, behind)


class Power(NamedTuple):
    """A symmetric 2x2 matrix of powers (D), shapes (eyes, 1): a lens, a vergence or a refraction."""

    xx: Array
    xy: Array
    yy: Array

    def minus(self, other: Power) -> Power:
        """The difference."""
        return Power(self.xx - other.xx, self.xy - other.xy, self.yy - other.yy)


def cylinder_power(mean: Array, cylinder: Array, axis_of_strongest: Array) -> Power:
    """The matrix of a mean power and a cylinder (D), by the meridian (degrees) of the strongest power."""
    twice = 2 * np.radians(axis_of_strongest)
    x, y = cylinder / 2 * np.cos(twice), cylinder / 2 * np.sin(twice)
    return Power(mean + x, y + 0 * x, mean - x)


def wave_from(vergence: Power, x: Array, y: Array, z: Array, index: float) -> Rays:
    """The rays of a wave of a vergence (D, light running towards -z and converging when above 0) at points of a plane.

    The wave is exact where both principal powers are one: its rays meet in one point. Otherwise it is the smooth
    surface that has these two powers, with rays at right angles to it, so that optical paths stay true.
    """
    a, b, c = (value / 1000 for value in vergence)  # to 1/mm
    vx, vy = a * x + b * y, b * x + c * y
    root = np.sqrt(1 + (vx * vx + vy * vy) / index**2)
    bulge = vx * x + vy * y
    # path S(x, y) = -bulge / (1 + root); for one power V: -index (sqrt(f^2 + r^2) - f), f = index / V
    wx, wy = a * vx + b * vy, b * vx + c * vy
    grown = bulge / ((1 + root) ** 2 * root * index**2)
    slope_x, slope_y = -(2 * vx / (1 + root) - grown * wx), -(2 * vy / (1 + root) - grown * wy)
    l, m = slope_x / index, slope_y / index  # noqa: E741
    return Rays(x, y, z + 0 * x, l, m, -np.sqrt(1 - l * l - m * m), -bulge / (1 + root))


def column_power(mean: Array) -> Power:
    """The matrix of a power (D) that is one in all meridians."""
    return Power(mean, 0 * mean, mean)
