"""Invented eyes with a cone, and the work of tracing them, whose time the benchmark takes."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .eye import RAYS, Eye, Pupil, batches, trace_out
from .focus import refractions
from .lenses import IdealLens
from .rays import power
from .surfaces import Bump, Surface, biconic, column


def cones(eyes: int) -> Eye:
    """Eyes of several lengths and cylinders, a bell off the centre on both surfaces, an ideal toric lens."""
    draw = np.random.default_rng(1)
    flat, length, cylinder, axis = (draw.uniform(*ends, eyes) for ends in ((7, 8), (21, 28), (0, 6), (0, 180)))
    cone = Bump(column(-0.02), column(1.0), column(draw.uniform(-1, 1, eyes)), column(-0.8))
    front = Surface([biconic(flat, flat - 0.3, axis, -0.2, -0.2), cone], column(0.0))
    back = Surface([biconic(0.84 * flat, 0.81 * flat, axis, -0.2, -0.2), cone], column(0.5))
    lens = IdealLens(power(np.full(eyes, 18.0), cylinder, axis), column(np.full(eyes, 5.0)))
    return Eye(front, back, lens, column(length))


def works(eyes: int) -> dict[str, Callable[[], object]]:
    """By what is done, the tracing of so many eyes through a pupil of 3 mm, without and with both meanings of focus."""
    eye, pupil = cones(eyes), Pupil(column(3.0), column(0.0), column(0.0))

    def trace() -> None:
        for which in batches(eyes):
            trace_out(eye.some(which), pupil.some(which))

    return {f"{RAYS} rays": trace, f"{RAYS} rays, refracted": lambda: refractions(eye, pupil)}
