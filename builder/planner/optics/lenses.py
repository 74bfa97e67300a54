"""What stands between the retina and the cornea: an ideal lens, or one of two surfaces; both may be toric.

Each sends the light of a point of the retina, on the axis, forward so that it would cross given points of the plane of
the corneal vertex if it met no cornea. Shapes as in `surfaces`; lengths in mm, powers in D.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol, Self

import numpy as np
from numpy.typing import ArrayLike

from builder.planner.reference.constants import CONSTANTS

from .rays import Rays, power, through, to_plane, wave_from
from .surfaces import Array, Biconic, Surface, apply, column, dot, some

TINY = 1e-4  # mm at the cornea: rays that near to the axis obey paraxial optics


class Indices(NamedTuple):
    """Refractive indices of cornea, aqueous and vitreous."""

    cornea: float
    aqueous: float
    vitreous: float


def usual_indices() -> Indices:
    """Those of the constants; the vitreous is taken for aqueous."""
    return Indices(CONSTANTS.index_cornea, CONSTANTS.index_aqueous, CONSTANTS.index_aqueous)


class Lens(Protocol):
    """A lens in the eye."""

    def forward(self, length: Array, points: Array, indices: Indices) -> Rays:
        """The rays in front of the lens, aimed at points (2, eyes, rays) of the plane z = 0."""
        ...

    def some(self, which: slice) -> Self:
        """Those of some eyes."""
        ...


@dataclass(frozen=True)
class IdealLens:
    """A thin lens without aberrations: power matrix (eyes, 2, 2), see `rays.power`, and its depth (eyes, 1)."""

    power: Array
    depth: Array

    def forward(self, length: Array, points: Array, indices: Indices) -> Rays:
        """As Lens; vitreous counts as aqueous."""
        reach = 1000 * indices.aqueous
        vergence = self.power - power(reach / (length - self.depth))
        # A ray at x on the lens crosses the plane of the cornea at (1 - depth V / n) x, to first order.
        wider = np.eye(2) - self.depth[..., None] * vergence / reach
        return wave_from(vergence, apply(np.linalg.inv(wider), points), self.depth, indices.aqueous)

    def some(self, which: slice) -> IdealLens:
        """Those of some eyes."""
        return IdealLens(some(self.power, which), some(self.depth, which))


@dataclass(frozen=True)
class ThickLens:
    """A lens of two surfaces and an index between them."""

    front: Surface
    back: Surface
    index: float

    def forward(self, length: Array, points: Array, indices: Indices) -> Rays:
        """As Lens: three rays close to the axis show how steeply the light must leave the retina."""
        place = np.zeros((2, len(length), 3))
        place[:, :, 1:] = np.eye(2)[:, None] * TINY
        tilt = place / length
        seen = to_plane(self._traced(length, tilt, indices), 0.0, indices.aqueous).place
        spread = (seen[:, :, 1:] - seen[:, :, :1]).transpose(1, 0, 2) * (length[..., None] / TINY)
        return self._traced(length, apply(np.linalg.inv(spread), points - seen[:, :, :1]), indices)

    def _traced(self, length: Array, tilt: Array, indices: Indices) -> Rays:
        """Rays from the retina that gain `tilt` mm across for each mm towards the front."""
        along = indices.vitreous / np.sqrt(1 + dot(tilt, tilt))
        start = Rays(np.zeros(tilt.shape), 0 * along + length, along * tilt, -along, 0 * along)
        inside = through(start, self.back, indices.vitreous, self.index)
        return through(inside, self.front, self.index, indices.aqueous)

    def some(self, which: slice) -> ThickLens:
        """Those of some eyes."""
        return ThickLens(self.front.some(which), self.back.some(which), self.index)


def toric_lens(
    mean: ArrayLike, cylinder: ArrayLike, strongest: ArrayLike, depth: ArrayLike, thickness: float, index: float
) -> ThickLens:
    """A two-surface lens of a mean equivalent power and a cylinder (D), its strongest meridian at degrees.

    Its front is a sphere of half the mean power, its back carries the cylinder: per meridian
    F = F1 + F2 - (t/n) F1 F2. depth (mm) is that of its front vertex; index and thickness (mm) are those of the maker.
    """
    step, reduced = 1000 * (index - CONSTANTS.index_aqueous), thickness / (1000 * index)
    front = column(mean) / 2
    half = np.stack([column(cylinder) / 2, -column(cylinder) / 2])
    strong, weak = (column(mean) + half - front) / (1 - reduced * front)
    axis = np.broadcast_to(column(strongest), strong.shape)
    # A surface hollow to the light has a curvature below 0; its light runs from the lens into the aqueous.
    shapes = [_sphere_like(front, front, axis, step), _sphere_like(strong, weak, axis, -step)]
    first, second = (Surface([shape], column(depth) + far) for shape, far in zip(shapes, (0, thickness), strict=True))
    return ThickLens(first, second, index)


def _sphere_like(strong: Array, weak: Array, axis: Array, step: float) -> Biconic:
    """A biconic with Q = 0 of two surface powers (D), by 1000 times the step of the index; a power of 0 is allowed."""
    bent = power((strong + weak) / 2, strong - weak, axis) / step
    return Biconic(np.concatenate([bent, bent @ bent], axis=1))
