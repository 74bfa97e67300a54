"""The first sheet and the head of every sheet: file, state of the eyes, what to type next, steps, reasons."""

from __future__ import annotations

import numpy as np

from builder.reference.plan import points
from builder.reference.plan.book import Book
from builder.reference.plan.cells import EyeValues, Values, select, there

REASON_LINES = 8


def first_sheet(book: Book, values: Values) -> None:
    """The rows of the first sheet that depend on the reasons."""
    eye, w = EyeValues(values), book.words.get
    number = values.get("plan", "file_number")
    name = np.array(
        [w("word", "no_file_number") if n == "" else n if isinstance(n, str) else f"{n:.0f}" for n in number],
        dtype=object,
    )
    line = w("word", "file_is") + name + w("word", "edition_is") + book.edition
    state = (
        w("word", "right_eye")
        + w("word", "colon")
        + eye.status[:, 0]
        + w("word", "gap")
        + w("word", "left_eye")
        + w("word", "colon")
        + eye.status[:, 1]
    )
    plan_first = points.nth_sentence(
        values.get("plan_points", "plan_point_number"), values.get("plan_points", "plan_point_sentence"), 1
    )
    first = points.nth_sentence(values.get("points", "point_number"), values.get("points", "point_sentence"), 1)
    nothing = eye.eye_used.sum(axis=1) == 0
    following = select(
        [
            (there(plan_first), plan_first),
            (nothing, w("word", "next_first_eye")),
            *(
                (there(first[:, side]) & (eye.status[:, side] != w("word", "status_ready")), first[:, side])
                for side in (0, 1)
            ),
        ],
        w("word", "next_nothing"),
    )
    values.put("plan", page_line=line, page_state=state, type_next=following)
    met, wanted = values.get("needs", "need_met"), values.get("needs", "need_wanted")
    for row, step in (("step_readings", "step_one"), ("step_choices", "step_two"), ("step_second", "step_four")):
        mine = np.array([book.need_steps[key] == step for key in book.needs])
        done, asked = met[..., mine].sum(axis=-1), wanted[..., mine].sum(axis=-1)
        texts = np.empty(done.shape, dtype=object)
        for place in np.ndindex(done.shape):
            texts[place] = f"{done[place]:.0f}{w('word', 'of_needed')}{asked[place]:.0f}{w('word', 'typed_needed')}"
        values.put("eyes", **{row: texts})
    look = np.empty(eye.warnings_live.shape, dtype=object)
    for place in np.ndindex(look.shape):
        look[place] = f"{eye.warnings_live[place]:.0f}{w('word', 'warnings_to_look_at')}"
    values.put(
        "eyes",
        step_look=look,
        step_release=select([(eye.released == 1, w("word", "released_words"))], w("word", "withheld_words")),
    )
    lines = [
        points.nth_sentence(values.get("points", "point_number"), values.get("points", "point_sentence"), n + 1)
        for n in range(REASON_LINES)
    ]
    values.put("reason_lines", reason_line=np.stack(lines, axis=-1))
