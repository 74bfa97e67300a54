"""A whole eye, traced from the retina out through lens and cornea.

Light that leaves the eye from one point of the retina shows the eye's whole error in front of it: the wave that a
correction would have to bring in, turned about. Shapes as in `surfaces`; lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache

import numpy as np

from .lenses import Indices, Lens, usual_indices
from .rays import Rays, through, to_plane
from .surfaces import Array, Surface, some

AIR = 1.0
RAYS = 200
AT_ONCE = 64  # eyes: so many that the arrays of their rays stay in the processor's near memory

# A C library may hand memory back to the system after every array and fetch it again page by page, a third of the time
# here; one that has once freed a block as large as this (never touched, so free of cost) keeps what it has.
np.empty(2_000_000)


@dataclass(frozen=True)
class Eye:
    """Eyes: cornea front and back, lens, and the axial length (mm), shape (eyes, 1), one for each."""

    front: Surface
    back: Surface
    lens: Lens
    length: Array
    indices: Indices = field(default_factory=usual_indices)

    def __len__(self) -> int:
        return len(self.length)

    def some(self, which: slice) -> Eye:
        """Some of the eyes."""
        return Eye(
            self.front.some(which), self.back.some(which), self.lens.some(which), self.length[which], self.indices
        )


@dataclass(frozen=True)
class Pupil:
    """The pupil as it stands on the cornea: diameter and centre in mm, shapes (eyes, 1), or (1, 1) for all."""

    diameter: Array
    centre_x: Array
    centre_y: Array

    def some(self, which: slice) -> Pupil:
        """That of some eyes."""
        return Pupil(some(self.diameter, which), some(self.centre_x, which), some(self.centre_y, which))

    def points(self, rays: int) -> Array:
        """Points (2, eyes, rays) of even density over it (mm)."""
        x, y = (part[None] * (self.diameter / 2) for part in disc(rays))
        return np.stack([x + self.centre_x, y + self.centre_y])


@cache
def disc(rays: int) -> tuple[Array, Array]:
    """Points (rays,) of even density over a disc of radius 1: a spiral that turns by the golden angle."""
    number = np.arange(rays) + 0.5
    radius, angle = np.sqrt(number / rays), number * np.pi * (3 - np.sqrt(5))
    return radius * np.cos(angle), radius * np.sin(angle)


def trace_out(eye: Eye, pupil: Pupil, rays: int = RAYS) -> Rays:
    """The rays of the retina's middle in air at the plane of the corneal vertex, running out of the eye."""
    cornea, aqueous = eye.indices.cornea, eye.indices.aqueous
    inside = eye.lens.forward(eye.length, pupil.points(rays), eye.indices)
    in_cornea = through(inside, eye.back, aqueous, cornea)
    return to_plane(through(in_cornea, eye.front, cornea, AIR), 0.0, AIR)


def batches(eyes: int, at_once: int = AT_ONCE) -> Iterator[slice]:
    """The eyes in portions."""
    yield from (slice(start, min(start + at_once, eyes)) for start in range(0, eyes, at_once))
