"""Optical surfaces as sums of parts, each of which gives its sag and its slopes at any point.

Lengths in mm, curvatures in 1/mm, angles in degrees, counter-clockwise as the examiner sees them. z runs into the eye.
Shapes: points and slopes (2, eyes, rays), x before y; a parameter (eyes, 1), or (1, 1) where it is one for all eyes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import NamedTuple, Protocol, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def column(values: ArrayLike) -> Array:
    """Numbers, one an eye or one for all, as a column of shape (eyes, 1)."""
    return np.asarray(values, dtype=np.float64).reshape(-1, 1)


def dot(first: Array, second: Array) -> Array:
    """The product (eyes, rays) of two fields (2, eyes, rays), point by point."""
    found = first * second
    found[0] += found[1]
    return found[0]


def apply(matrices: NDArray[np.floating], points: Array) -> Array:
    """Matrices (eyes, m, 2), one an eye, upon points (2, eyes, rays): (m, eyes, rays), each of the m in one piece."""
    found = np.empty((matrices.shape[1], *np.broadcast_shapes(points.shape[1:], (len(matrices), 1))))
    np.matmul(matrices, points.transpose(1, 0, 2), out=found.transpose(1, 0, 2))
    return found


def some(value: Array, which: slice) -> Array:
    """The values of some eyes, out of one for each (eyes first), or that one which serves all."""
    return value[which] if len(value) > 1 else value


def symmetric(first: ArrayLike, second: ArrayLike, axis: ArrayLike) -> Array:
    """Symmetric matrices (eyes, 2, 2) with the value `first` along a meridian (degrees) and `second` across it."""
    first, second, twice = (np.asarray(value, np.float64).reshape(-1) for value in (first, second, axis))
    mean, half = (first + second) / 2, (first - second) / 2
    x, y = half * np.cos(2 * np.radians(twice)), half * np.sin(2 * np.radians(twice))
    return np.stack([np.stack([mean + x, y], axis=-1), np.stack([y, mean - x], axis=-1)], axis=-2)


class Shape(NamedTuple):
    """Sag (mm), shape (eyes, rays), and its slopes along x and y, shape (2, eyes, rays)."""

    sag: Array
    slope: Array


class Part(Protocol):
    """A part of a surface."""

    def at(self, points: Array) -> Shape:
        """Sag and slopes at points (mm); NaN where the part has no surface."""
        ...

    def curvature(self) -> Array:
        """About how strongly it is curved at its vertex (1/mm), shape (eyes, 1): where to begin to look for it."""
        ...

    def some(self, which: slice) -> Self:
        """The same part of some of its eyes."""
        ...


class _ByEye:
    """What all parts share: a slice of the eyes."""

    def some(self, which: slice) -> Self:
        """The same part of some of its eyes; a parameter that is one for all stays."""
        values = {f.name: getattr(self, f.name) for f in fields(self)}  # type: ignore[arg-type]
        return type(self)(**{k: v if isinstance(v, int) else some(v, which) for k, v in values.items()})


@dataclass(frozen=True)
class Biconic(_ByEye):
    """A biconic z = x'Cx / (1 + sqrt(1 - x'Dx)), as it is made by `biconic` and `conic`.

    `form` (eyes, 4, 2) holds C above D: so that no point need be turned into the surface's own axes.
    """

    form: Array

    def at(self, points: Array) -> Shape:
        """Sag and slopes."""
        bent = apply(self.form, points)
        slope, under = bent[:2], bent[2:]
        root = dot(under, points)
        np.subtract(1, root, out=root)
        np.sqrt(root, out=root)
        share = root + 1
        np.reciprocal(share, out=share)
        sag = dot(slope, points)
        sag *= share
        # d sag = 2 Cx / (1 + root) + Dx sag / (root (1 + root))
        slope *= 2 * share
        share *= sag
        share /= root
        under *= share
        slope += under
        return Shape(sag, slope)

    def curvature(self) -> Array:
        """The mean curvature."""
        return (self.form[:, 0, 0] + self.form[:, 1, 1])[:, None] / 2


def biconic(flat: ArrayLike, steep: ArrayLike, steep_axis: ArrayLike, q_flat: ArrayLike, q_steep: ArrayLike) -> Biconic:
    """A biconic by its radii (mm), the meridian of the steep one (degrees) and an asphericity Q along each.

    c the curvatures: z = (c1 u^2 + c2 v^2) / (1 + sqrt(1 - (1 + Q1) c1^2 u^2 - (1 + Q2) c2^2 v^2)).
    """
    (f, s), (qf, qs) = ([1 / column(r) for r in (flat, steep)], [1 + column(q) for q in (q_flat, q_steep)])
    return Biconic(np.concatenate([symmetric(s, f, steep_axis), symmetric(qs * s * s, qf * f * f, steep_axis)], axis=1))


def conic(radius: ArrayLike, q: ArrayLike = 0.0) -> Biconic:
    """A surface of revolution of radius (mm, below 0: hollow to the light) and asphericity Q (prolate below 0)."""
    return biconic(radius, radius, np.zeros(np.shape(radius)), q, q)


@dataclass(frozen=True)
class Toric(_ByEye):
    """A torus: a circular arc of radius `arc` (mm) in a meridian `axis`, turned about a line `turned` mm behind."""

    arc: Array
    turned: Array
    axis: Array

    def at(self, points: Array) -> Shape:
        """With s the sag of the arc: z = (2s - c s^2 + c v^2) / (1 + sqrt((1 - c s)^2 - c^2 v^2))."""
        angle = np.radians(self.axis[:, 0])
        cos, sin = np.cos(angle), np.sin(angle)
        turn = np.stack([np.stack([cos, sin], axis=-1), np.stack([-sin, cos], axis=-1)], axis=1)
        u, v = apply(turn, points)
        bend, c = 1 / self.arc, 1 / self.turned
        root = np.sqrt(1 - (bend * u) ** 2)
        s = bend * u * u / (1 + root)
        arm, cv = 1 - c * s, c * v
        depth = np.sqrt(arm * arm - cv * cv)
        sag = (s * (1 + arm) + cv * v) / (1 + depth)
        own = np.stack([arm * (bend * u / root), cv]) / depth
        return Shape(sag, apply(turn.transpose(0, 2, 1), own))

    def curvature(self) -> Array:
        """The mean curvature."""
        return (1 / self.arc + 1 / self.turned) / 2


@dataclass(frozen=True)
class Bump(_ByEye):
    """A bell of `height` mm (below 0: towards the light) and `width` mm (standard deviation) about a centre (mm)."""

    height: Array
    width: Array
    centre_x: Array
    centre_y: Array

    def at(self, points: Array) -> Shape:
        """A Gaussian bell: a cone when it lies off the centre."""
        away = points - np.stack(np.broadcast_arrays(self.centre_x, self.centre_y))
        inverse = -1 / self.width**2
        sag = dot(away, away)
        sag *= inverse / 2
        np.exp(sag, out=sag)
        sag *= self.height
        away *= sag * inverse
        return Shape(sag, away)

    def curvature(self) -> Array:
        """None in the middle of the surface."""
        return 0 * self.height


@dataclass(frozen=True)
class Wave(_ByEye):
    """A wave round the circle: height (mm) r^power cos(order (t - crest)), crest in degrees, 1 <= order <= power."""

    height: Array
    crest: Array
    order: int
    power: int

    def at(self, points: Array) -> Shape:
        """Written as the real part of (x + iy)^order r^(power - order), which needs no angle at the middle."""
        x, y = points
        angle, half = self.order * np.radians(self.crest), (self.power - self.order) / 2
        real, imaginary = self.height * np.cos(angle), -self.height * np.sin(angle)
        for _ in range(self.order - 1):  # in real numbers: complex ones take twice as long
            real, imaginary = real * x - imaginary * y, real * y + imaginary * x
        sag, flat = real * x - imaginary * y, np.zeros(points.shape[1:])
        slope = self.order * np.stack([real + flat, flat - imaginary])
        if half:
            square = dot(points, points)
            slope *= square**half
            slope += (2 * half * sag * square ** (half - 1)) * points
            sag *= square**half
        return Shape(sag, slope)

    def curvature(self) -> Array:
        """None on the mean."""
        return 0 * self.height


@dataclass(frozen=True)
class Surface:
    """A surface: the sum of its parts, its vertex `depth` mm behind the front of the eye, shape (eyes, 1).

    `aside` is how far its vertex lies off the axis, x and y in mm, shape (2, eyes, 1); None on the axis.
    """

    parts: Sequence[Part]
    depth: Array
    aside: Array | None = None

    def __len__(self) -> int:
        """How many eyes."""
        return max(len(self.depth), *(len(part.curvature()) for part in self.parts))

    def at(self, points: Array) -> Shape:
        """Sag and slopes at points that are counted from the surface's own vertex, for as many eyes as it has."""
        sag, slope = self.parts[0].at(points)
        for part in self.parts[1:]:
            more = part.at(points)
            sag += more.sag
            slope += more.slope
        return Shape(sag, slope)

    def guess(self, points: Array) -> Array:
        """About its sag at such points: a paraboloid of its first part's curvature."""
        found = dot(points, points)
        found *= self.parts[0].curvature() / 2
        return found

    def some(self, which: slice) -> Surface:
        """The same surface of some of its eyes."""
        aside = self.aside
        if aside is not None and aside.shape[1] > 1:
            aside = aside[:, which]
        return Surface([part.some(which) for part in self.parts], some(self.depth, which), aside)
