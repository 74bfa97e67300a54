"""Invented eyes, and the work of tracing them, whose time the benchmark takes."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .corneas import draw
from .eye import RAYS, Eye, Pupil, batches, trace_out
from .focus import refractions
from .lenses import IdealLens, Lens, toric_lens
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


def drawn(eyes: int, lens: Lens) -> Eye:
    """Eyes with corneas as the bench draws them: cones off the centre, with every part that a cone has."""
    corneas = draw("paracentral_cone_2", eyes, np.random.default_rng(1))
    return Eye(corneas.front, corneas.back, lens, column(np.full(eyes, 23.5)))


def works(eyes: int) -> dict[str, Callable[[], object]]:
    """By what is done, the tracing of so many eyes through a pupil of 3 mm; `refracted`: by both meanings of focus."""
    pupil = Pupil(column(3.0), column(0.0), column(0.0))
    ideal = IdealLens(power(np.full(eyes, 18.0)), column(np.full(eyes, 5.0)))
    thick = toric_lens(np.full(eyes, 18.0), np.full(eyes, 2.0), np.full(eyes, 30.0), np.full(eyes, 4.6), 0.8, 1.46)
    simple, full, both = cones(eyes), drawn(eyes, ideal), drawn(eyes, thick)

    def tracing(eye: Eye) -> Callable[[], object]:
        return lambda: [trace_out(eye.some(which), pupil.some(which)) for which in batches(eyes)]

    return {
        f"{RAYS} rays": tracing(simple),
        f"{RAYS} rays, refracted": lambda: refractions(simple, pupil),
        f"{RAYS} rays, drawn cones": tracing(full),
        f"{RAYS} rays, thick lens": tracing(both),
    }
