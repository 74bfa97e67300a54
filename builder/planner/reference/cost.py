"""What the reference costs on arrays, and eye by eye in a plain loop.

An echo: no row of the cells is computed here; what is timed has its method named in toric and vergence.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from builder.planner.reference import toric, vergence
from builder.planner.reference.lens_position import position_holladay1988


def works(eyes: int, parts: int) -> tuple[Callable[[], object], Callable[[], object]]:
    """One formula and the toric trace of so many eyes at once, and of a part of them one after the other."""
    draw = np.random.default_rng(1)
    k, length, cylinder, axis = (draw.uniform(*ends, eyes) for ends in ((38, 60), (21, 28), (0, 6), (0, 180)))

    def plan(k: Any, length: Any, cylinder: Any, axis: Any) -> toric.ToricRefraction:
        position = position_holladay1988(length, k, 1.5).position
        cornea, optical = vergence.corneal_power("Holladay 1", k), vergence.optical_length("Holladay 1", length)
        power = vergence.lens_power(cornea, optical, position, -0.5)
        return toric.refraction_toric_langenbucher2004(cornea, cylinder, axis, power, 3.0, axis, optical, position)

    few = [each[: eyes // parts] for each in (k, length, cylinder, axis)]
    return lambda: plan(k, length, cylinder, axis), lambda: [plan(*eye) for eye in zip(*few, strict=True)]
