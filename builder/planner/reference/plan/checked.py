"""What the second person has done for each eye: whose name the theatre page shows, and what is still missing."""

from __future__ import annotations

import numpy as np

from builder.planner.reference.plan.book import Book
from builder.planner.reference.plan.cells import EyeValues, Values, flag

COMPARED = (
    *("axial_length", "acd", "flat", "steep", "steep_axis", "k_flat", "k_steep", "goal", "lens", "flat_radius"),
    *("back_flat", "back_steep", "a_constant", "incision", "checked_code"),
)
PASSED = 5  # the last of the states of a check


def second_check(book: Book, values: Values) -> None:
    """The check of each eye, (n, 2): how far it is, and the sentence that says it on the theatre page."""
    eye, w = EyeValues(values), book.words.get
    lacking = values.get("needs", "need_again_lacks")
    missing = lacking.sum(axis=-1) + _live(book, values, "again_missing_number")
    missing = missing + values.get("plan", "refused_again_file_number")[:, None]
    differing = sum(flag(values.get("eyes", f"same_{key}") == w("word", "differs")) for key in COMPARED)
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
    labels = [book.words.label(book.need_labels[key]) for key in book.needs]
    first = np.full(missing.shape, book.words.label("again_file_number"), dtype=object)
    said = np.full(flags.shape, "", dtype=object)
    said[..., 1:4] = [w("word", key) for key in ("checked_nobody", "checked_same", "checked_differs")]
    for at in np.ndindex(missing.shape):
        if lacking[at].any():
            first[at] = labels[int(lacking[at].argmax())]
        said[at][4] = f"{w('word', 'check_lacking')}{missing[at]:.0f}{w('word', 'check_first_is')}{first[at]}"
        said[at][5] = f"{w('word', 'checked_short')}{values.get('plan', 'checked_by')[at[0]]}"
    state = flags.argmax(axis=-1)
    values.put("check_states", check_flag=flags, check_sentence=said)
    values.put(
        "eyes",
        check_lacks=missing,
        check_differing=differing,
        check_first=first,
        check_said=np.take_along_axis(said, state[..., None], axis=-1)[..., 0],
        unchecked_shown=flag((eye.status == w("word", "status_check")) & (state != PASSED)),
    )


def _live(book: Book, values: Values, key: str) -> np.ndarray:
    """Whether a point of the plan is live, (n, 1)."""
    order = [point.key for point in book.points if point.of_plan]
    return values.get("plan_points", "plan_point_live")[:, order.index(key), None]
