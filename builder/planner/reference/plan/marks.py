"""The reading of the dial, where openings are read on the marker, and how far the optic overlaps the capsule.

An echo: differences, folded axes and whole degrees as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import circle
from builder.planner.reference.plan.cells import EyeValues, Values, flag, there
from builder.planner.reference.vectors import fold_axis


def dial_reading(values: Values, words: Words) -> None:
    """Marks meant and found, where to set the dial and read the openings; how many sizes of the overlap are typed."""
    eye, used = EyeValues(values), words.get("word", "used")
    off = eye.mark_found - eye.mark_meant
    reading = fold_axis(eye.marks_axis - off)
    shown = circle.whole(np.stack([eye.incision_meridian, eye.side_port1, eye.side_port2], axis=-1) - off[..., None])
    typed = [values.get("eyes", f"state_{key}") == used for key in ("opening_diameter", "optic_diameter")]
    values.put("openings", opening_reading=np.where(there(shown), np.mod(shown, 360), np.nan))
    values.put(
        "eyes",
        overlap_typed=flag(typed[0]) + flag(typed[1]),
        marks_off=off,
        dial_reading=reading,
        dial_shown=fold_axis(circle.whole(reading)),
        axis_shown=fold_axis(circle.whole(eye.marks_axis)),
        optic_overlap=(eye.optic_diameter - eye.opening_diameter) / 2,
    )
