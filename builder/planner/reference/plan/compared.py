"""By which entries the two eyes are compared, and where the first refused one of them stands.

An echo: the first flag that holds as the cells find it.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.cells import Values

ENTRIES = (
    *("axial_length", "chamber_depth", "corneal_diagnosis", "ring_flat", "ring_steep", "zone3_flat", "zone3_steep"),
    *("goal_refraction", "refraction_sphere", "refraction_cylinder"),
)


def refused_places(values: Values, where: Mapping[tuple[str, str], str]) -> None:
    """The cell, in words, of the first refused entry of each eye."""
    refused = np.stack([values.get("eyes", f"refused_{key}") for key in ENTRIES], axis=-1)
    at = np.array([[where[key, side] for key in ENTRIES] for side in EYES], dtype=object)
    first = np.take_along_axis(np.broadcast_to(at, refused.shape), refused.argmax(axis=-1)[..., None], axis=-1)[..., 0]
    values.put("eyes", refused_place=np.where(refused.any(axis=-1), first, "").astype(object))
