"""What the second person has done for each eye, and what is still missing.

An echo: counts, comparisons and the first flag that holds as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.planner.reference.plan.book import Book
from builder.planner.reference.plan.cells import EyeValues, Values, flag

COMPARED = (
    *("axial_length", "acd", "flat", "steep", "steep_axis", "k_flat", "k_steep", "goal", "lens", "flat_radius"),
    *("back_flat", "back_steep", "a_constant", "incision"),
)
PASSED = 5  # the last of the states of a check


def second_check(book: Book, values: Values) -> None:
    """The check of each eye, (n, 2): what differs and what is still missing, and how far it is."""
    eye, w = EyeValues(values), book.words.get
    lacking = values.get("needs", "need_again_lacks")
    missing = lacking.sum(axis=-1) + _live(book, values, "again_missing_number")
    missing = missing + values.get("plan", "refused_again_file_number")[:, None]
    differing = sum(
        flag(values.get("eyes", f"same_{key}") == w("word", "differs")) for key in (*COMPARED, "checked_code")
    )
    differing = differing + _live(book, values, "differs_number")
    flags = np.stack(
        [
            1 - eye.eye_used,
            np.broadcast_to(_live(book, values, "no_checker"), missing.shape),
            np.broadcast_to(_live(book, values, "same_person"), missing.shape),
            flag(differing > 0),
            flag(missing > 0),
            np.ones(missing.shape),
        ],
        axis=-1,
    )
    state = flags.argmax(axis=-1)
    values.put("check_states", check_flag=flags)
    values.put(
        "eyes",
        check_lacks=missing,
        check_differing=differing,
        unchecked_shown=flag((eye.status == w("word", "status_check")) & (state != PASSED)),
    )


def _live(book: Book, values: Values, key: str) -> np.ndarray:
    """Whether a point of the plan is live, (n, 1)."""
    order = [point.key for point in book.points if point.of_whole]
    return values.get("plan_points", "plan_point_live")[:, order.index(key), None]
