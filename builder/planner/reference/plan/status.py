"""The state of each eye, and what is released.

An echo: comparisons as the cells compute them.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words
from builder.planner.reference.plan.cells import EyeValues, Values, flag, place_of, select


def status(values: Values, words: Words) -> None:
    """State of each eye, what is released, and the words of the first sheet that depend on it."""
    eye = EyeValues(values)
    w = words.get
    stop = (eye.stop_count > 0) | (eye.slips_open > 0)
    check = (eye.open_count > 0) | ((eye.soft_count > 0) & (eye.warnings_confirmed == 0))
    state = select(
        [
            (eye.eye_used == 0, w("word", "status_not_used")),
            (stop, w("word", "status_not_ready")),
            (check, w("word", "status_check")),
        ],
        w("word", "status_ready"),
    )
    released = np.isin(state, [w("word", "status_ready"), w("word", "status_check")])
    order = [w("word", f"status_{key}") for key in ("ready", "check", "not_ready", "not_used")]

    def shown(row: NDArray[Any]) -> NDArray[Any]:
        return np.where(released, row, "" if row.dtype == object else np.nan)

    values.put(
        "eyes",
        status=state,
        status_place=place_of(state, order),
        released=flag(released),
        released_lens=shown(eye.lens_choice),
        released_power=shown(eye.lens_power),
        released_cylinder=shown(eye.lens_cylinder),
        released_axis=shown(eye.marks_axis),
    )
