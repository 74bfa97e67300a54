"""Optical surfaces as sums of parts, each of which gives its sag and its slope at any point.

Lengths in mm, curvatures in 1/mm, angles in degrees, counter-clockwise. A sag is positive into the eye. The parameters
of a part are arrays of shape (eyes, 1), the points (eyes, rays); numpy broadcasts one upon the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import NamedTuple, Protocol, Self

import numpy as np

Array = np.ndarray


class Shape(NamedTuple):
    """Sag (mm) and its slopes along x and y, of the shape of the points asked for."""

    sag: Array
    slope_x: Array
    slope_y: Array


class Part(Protocol):
    """A part of a surface."""

    def at(self, x: Array, y: Array) -> Shape:
        """Sag and slopes at points (mm); NaN where the part has no surface."""
        ...


class _ByEye:
    """What all parts share: a slice of the eyes."""

    def eyes(self, which: slice) -> Self:
        """The same part for some of its eyes; a parameter that is one for all stays."""
        values = {f.name: getattr(self, f.name) for f in fields(self)}  # type: ignore[arg-type]
        return type(self)(**{k: v[which] if np.ndim(v) == 2 and len(v) > 1 else v for k, v in values.items()})


def column(values: object) -> Array:
    """Numbers, one an eye or one for all, as a column of shape (eyes, 1)."""
    return np.asarray(values, dtype=float).reshape(-1, 1)


@dataclass(frozen=True)
class Biconic(_ByEye):
    """A biconic: curvatures (1/mm) and asphericities Q along its own two axes, the first of them at `axis` degrees."""

    curvature_1: Array
    curvature_2: Array
    q_1: Array
    q_2: Array
    axis: Array

    def at(self, x: Array, y: Array) -> Shape:
        """z = (c1 u^2 + c2 v^2)/(1 + sqrt(1 - (1 + Q1) c1^2 u^2 - (1 + Q2) c2^2 v^2)), u and v along the own axes."""
        turn = np.radians(self.axis)
        cos, sin = np.cos(turn), np.sin(turn)
        u, v = cos * x + sin * y, cos * y - sin * x
        cu, cv = self.curvature_1 * u, self.curvature_2 * v
        au, av = (1 + self.q_1) * self.curvature_1 * cu, (1 + self.q_2) * self.curvature_2 * cv
        root = np.sqrt(1 - au * u - av * v)
        sag = (cu * u + cv * v) / (1 + root)
        # d sag = (2 c u (1 + root) + (c u^2 + c v^2) (1 + Q) c^2 u / root) / (1 + root)^2
        along = 1 / (1 + root)
        grown = sag * along / root
        su, sv = 2 * cu * along + grown * au, 2 * cv * along + grown * av
        return Shape(sag, cos * su - sin * sv, sin * su + cos * sv)


def conic(radius: object, q: object) -> Biconic:
    """A surface of revolution of radius (mm) and asphericity Q (prolate below 0)."""
    curvature = 1 / column(radius)
    return Biconic(curvature, curvature, column(q), column(q), column(0.0))


def biconic(flat: object, steep: object, steep_axis: object, q: object) -> Biconic:
    """A biconic by its radii (mm), the meridian of the steep one (degrees) and one asphericity."""
    return Biconic(1 / column(steep), 1 / column(flat), column(q), column(q), column(steep_axis))


@dataclass(frozen=True)
class Toric(_ByEye):
    """A torus: a circular arc of radius `arc` (mm) in the meridian `axis`, turned about a line `turned` mm behind it."""

    arc: Array
    turned: Array
    axis: Array

    def at(self, x: Array, y: Array) -> Shape:
        """Along its axis u the arc, across it the circle of the turn."""
        angle = np.radians(self.axis)
        cos, sin = np.cos(angle), np.sin(angle)
        u, v = cos * x + sin * y, cos * y - sin * x
        height = np.sqrt(self.arc**2 - u**2)
        arm = self.turned - u**2 / (self.arc + height)
        depth = np.sqrt(arm**2 - v**2)
        su, sv = arm * (u / height) / depth, v / depth
        return Shape(self.turned - depth, cos * su - sin * sv, sin * su + cos * sv)


@dataclass(frozen=True)
class Bump(_ByEye):
    """A bell of `height` mm (below 0: towards the light) and `width` mm (standard deviation) about a centre (mm)."""

    height: Array
    width: Array
    centre_x: Array
    centre_y: Array

    def at(self, x: Array, y: Array) -> Shape:
        """A Gaussian bell: a cone when it lies off the centre."""
        dx, dy = x - self.centre_x, y - self.centre_y
        inverse = 1 / self.width**2
        sag = self.height * np.exp((dx * dx + dy * dy) * (-inverse / 2))
        steep = -inverse * sag
        return Shape(sag, steep * dx, steep * dy)


@dataclass(frozen=True)
class Wave(_ByEye):
    """A wave round the circle: `height` mm at 1 mm from the middle, r^power cos(order (t - crest)), order >= 1."""

    height: Array
    crest: Array
    order: int
    power: int

    def at(self, x: Array, y: Array) -> Shape:
        """Written as the real part of (x + iy)^order r^(power - order), which needs no angle at the middle."""
        point = x + 1j * y
        turned = self.height * np.exp(-1j * self.order * np.radians(self.crest))
        below = turned * point ** (self.order - 1)
        round_, square, half = below * point, x * x + y * y, (self.power - self.order) / 2
        scale = square**half
        inner = 2 * half * square ** (half - 1) if half else 0.0
        return Shape(
            round_.real * scale,
            self.order * below.real * scale + round_.real * inner * x,
            -self.order * below.imag * scale + round_.real * inner * y,
        )


@dataclass(frozen=True)
class Surface:
    """A surface: the sum of its parts, its vertex `depth` mm behind the front of the eye, moved aside by x and y mm."""

    parts: Sequence[Part]
    depth: Array
    aside_x: Array | float = 0.0
    aside_y: Array | float = 0.0

    def at(self, x: Array, y: Array) -> Shape:
        """Depth (mm behind the front of the eye) and slopes at points."""
        x, y = x - self.aside_x, y - self.aside_y
        sag, slope_x, slope_y = self.parts[0].at(x, y)
        for part in self.parts[1:]:
            more = part.at(x, y)
            sag, slope_x, slope_y = sag + more.sag, slope_x + more.slope_x, slope_y + more.slope_y
        return Shape(sag + self.depth, slope_x, slope_y)

    def eyes(self, which: slice) -> Surface:
        """The same surface for some of its eyes."""
        aside = (v[which] if np.ndim(v) == 2 and len(v) > 1 else v for v in (self.depth, self.aside_x, self.aside_y))
        return Surface([part.eyes(which) for part in self.parts], *aside)  # type: ignore[attr-defined]
