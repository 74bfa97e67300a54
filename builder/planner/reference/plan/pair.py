"""The two eyes side by side: how far apart they are once this one is operated on.

Another method: means moved from plane to plane in one step, where the cells go by way of the cornea.
An echo: which refraction of the other eye counts, and the difference, as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, there


def both_eyes(values: Values, words: Words) -> None:
    """The other eye's refraction (at its latest visit, else as it is, else as planned) less this eye's prediction."""
    eye = EyeValues(values)
    sphere, cylinder, axis, vertex = (
        values.get("checkups", f"seen_{key}") for key in ("sphere", "cylinder", "axis", "vertex")
    )
    complete = there(sphere) & there(cylinder) & (there(axis) | (np.abs(cylinder) < CONSTANTS.axis_free))
    last = np.where(complete, np.arange(1.0, complete.shape[-1] + 1), 0.0).max(axis=-1)
    at = np.maximum(last - 1, 0).astype(int)[..., None]
    seen = [np.take_along_axis(row, at, axis=-1)[..., 0] for row in (sphere, sphere + cylinder)]
    worn_at = np.take_along_axis(vertex, at, axis=-1)[..., 0]
    seen = [np.where(last > 0, power, np.nan) for power in seen]
    last_mean = (_at_formulas(seen[0], worn_at) + _at_formulas(seen[1], worn_at)) / 2
    now = [eye.refraction_sphere, eye.refraction_sphere + eye.refraction_cylinder]
    present = (_at_formulas(now[0], eye.refraction_vertex) + _at_formulas(now[1], eye.refraction_vertex)) / 2
    other = [row[:, ::-1] for row in (last_mean, present, eye.predicted_mean)]
    refraction = np.where(there(other[0]), other[0], np.where(there(other[1]), other[1], other[2]))
    values.put(
        "eyes",
        last_visit=last,
        last_mean=last_mean,
        present_mean=present,
        fellow_refraction=refraction,
        eyes_difference=refraction - eye.predicted_mean,
    )


def _at_formulas(power: Array, vertex: Array) -> Array:
    """A power (D) worn at a vertex distance (mm) as it is worn at that of the predictions."""
    moved = (vertex - CONSTANTS.vertex_of_formulas) / 1000
    return np.asarray(power / (1 - moved * power))
