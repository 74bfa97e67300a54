"""A whole eye, traced from the retina out through lens and cornea, and the refraction that its wave in front asks for.

Shapes: (eyes, 1) for what an eye has once, (eyes, rays) for rays. Lengths in mm, powers in D, both at the front of the
cornea. Light that leaves the eye from one point of the retina shows the eye's whole error in front of it: the wave that
a correction would have to bring in, turned about.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np

from builder.reference.constants import CONSTANTS

from .rays import Power, Rays, column_power, through, to_plane, wave_from
from .surfaces import Array, Surface, column

AQUEOUS, CORNEA, AIR = CONSTANTS.index_aqueous, CONSTANTS.index_cornea, 1.0
RAYS = 200
AT_ONCE = 48  # eyes: so many that the arrays of their rays stay in the processor's near memory


@dataclass(frozen=True)
class Eye:
    """Eyes with an ideal lens: cornea front and back, lens power matrix (D), its depth and the axial length (mm)."""

    front: Surface
    back: Surface
    lens: Power
    lens_depth: Array
    length: Array

    def __len__(self) -> int:
        return len(self.length)

    def some(self, which: slice) -> Eye:
        """Some of the eyes."""
        lens = Power(*(part[which] for part in self.lens))
        return Eye(self.front.eyes(which), self.back.eyes(which), lens, self.lens_depth[which], self.length[which])


@dataclass(frozen=True)
class Pupil:
    """The pupil as it stands on the cornea: diameter and centre in mm, one for all eyes or one each."""

    diameter: Array
    centre_x: Array | float = 0.0
    centre_y: Array | float = 0.0

    def some(self, which: slice) -> Pupil:
        """That of some eyes."""
        values = (getattr(self, field.name) for field in fields(self))
        return Pupil(*(value[which] if np.size(value) > 1 else value for value in values))


def pupil_points(rays: int = RAYS) -> tuple[Array, Array]:
    """Points (rays,) of even density over a disc of radius 1: a spiral that turns by the golden angle."""
    number = np.arange(rays) + 0.5
    radius, angle = np.sqrt(number / rays), number * np.pi * (3 - np.sqrt(5))
    return radius * np.cos(angle), radius * np.sin(angle)


def trace_out(eye: Eye, pupil: Pupil, rays: int = RAYS) -> Rays:
    """The rays of a point of the retina in front of the eye, at the plane of the corneal vertex."""
    vergence = eye.lens.minus(column_power(1000 * AQUEOUS / (eye.length - eye.lens_depth)))
    # How much wider the beam is at the cornea than at the lens: so that it fills the pupil wanted there.
    wider = 1 - eye.lens_depth * (vergence.xx + vergence.yy) / 2 / (1000 * AQUEOUS)
    u, v = pupil_points(rays)
    x = (pupil.centre_x + pupil.diameter / 2 * u) / wider
    y = (pupil.centre_y + pupil.diameter / 2 * v) / wider
    inside = wave_from(vergence, x, y, eye.lens_depth, AQUEOUS)
    in_cornea = through(inside, eye.back, AQUEOUS, CORNEA)
    return to_plane(through(in_cornea, eye.front, CORNEA, AIR), 0.0, AIR)


def batches(eyes: int, at_once: int = AT_ONCE) -> Iterator[slice]:
    """The eyes in portions."""
    yield from (slice(start, min(start + at_once, eyes)) for start in range(0, eyes, at_once))
