"""The first sheet and the head of every sheet: file, state of the eyes, what to type next, steps, reasons."""

from __future__ import annotations

from typing import Any

import numpy as np

from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan import points, useful
from builder.planner.reference.plan.book import Book
from builder.planner.reference.plan.cells import EyeValues, Values, WordArray, flag, select, there
from builder.planner.reference.plan.second import is_own

REASON_LINES = 6


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
    values.put("plan", page_line=line, page_state=state, type_next=_next(book, values))
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
        look[place] = f"{w('word', 'warnings_to_look_at')}{eye.warnings_live[place]:.0f}"
    values.put(
        "eyes",
        step_look=look,
        step_incisions=eye.incision_warning,
        step_lenses=select(
            [
                (~there(eye.lens_choice), ""),
                (is_own(values), w("word", "lens_own_short")),
            ],
            w("word", "lens_example_short"),
        ),
        step_release=select([(eye.released == 1, w("word", "released_words"))], w("word", "withheld_words")),
        step_seat=np.broadcast_to(
            select(
                [(values.get("plan", "surgeon_seat") == w("choice", "temporal"), w("word", "from_side"))],
                w("word", "from_head"),
            )[:, None],
            eye.status.shape,
        ),
        step_backup=select([(there(eye.sulcus_lens), eye.sulcus_lens)], w("word", "none_chosen")),
        step_after=select([(eye.follow_begun == 1, w("word", "begun"))], w("word", "not_begun")),
    )
    lines = [
        points.nth_sentence(values.get("points", "point_number"), values.get("points", "point_sentence"), n + 1)
        for n in range(REASON_LINES)
    ]
    done = select([(eye.status == w("word", "status_ready"), w("word", "already_confirmed"))])
    values.put("reason_lines", reason_line=np.stack([np.where(there(n), done + n, n) for n in lines], axis=-1))


def _next(book: Book, values: Values) -> WordArray:
    """What to type next: what stops the plan, of the plan, of the right eye, of the left; then the rest likewise."""
    eye, w = EyeValues(values), book.words.get
    levels = [point.level for point in book.points if not point.of_plan]
    own = np.full(eye.status.shape, "", dtype=object)
    first_open = _first_live(values, levels, "open")
    useful.useful(book, values)
    open_said = useful.open_said(book, values, first_open)
    for at in np.ndindex(own.shape):
        begun = eye.follow_begun[at] == 1
        if eye.eye_used[at] == 0 or (eye.status[at] == w("word", "status_ready") and not begun):
            continue
        sentences = values.get("points", "point_sentence")[at]
        first = {level: text for level, text in zip(reversed(levels), reversed(sentences), strict=True) if text}
        planning = open_said[at] if first.get("open") else _waiting(book, eye, at)
        own[at] = first.get("stop") or (eye.follow_next[at] if begun else planning)
    waits = (eye.confirm_count + eye.soft_count > 0) & (eye.warnings_confirmed == 0)
    told = np.empty(own.shape, dtype=object)
    for at in np.ndindex(own.shape):
        told[at] = _warnings_wait(book, eye, at)
    values.put(
        "eyes",
        eye_next=own,
        point_open=first_open,
        open_said=open_said,
        confirmations_wait=flag(waits),
        waiting_said=told,
    )
    of_plan = points.nth_sentence(
        values.get("plan_points", "plan_point_number"), values.get("plan_points", "plan_point_sentence"), 1
    )
    cases: list[tuple[Any, Any]] = [
        (values.get("plan", "plan_point_stops") > 0, of_plan),
        (eye.eye_used.sum(axis=1) == 0, np.full(of_plan.shape, w("word", "next_first_eye"), dtype=object)),
        *((eye.stop_count[:, side] > 0, own[:, side]) for side in (0, 1)),
        (there(of_plan), of_plan),
        *((there(own[:, side]), own[:, side]) for side in (0, 1)),
        (np.any(eye.follow_begun, axis=1), np.full(of_plan.shape, w("word", "next_follow_up"), dtype=object)),
    ]
    holds, says = np.stack([case[0] for case in cases], -1), np.stack([case[1] for case in cases], -1)
    values.put("nexts", next_flag=holds.astype(float), next_words=says)
    return select(cases, w("word", "next_nothing"))


def _first_live(values: Values, levels: list[str], wanted: str) -> WordArray:
    """The sentence of the first live point of a level, "" where there is none."""
    mine = [n for n, level in enumerate(levels) if level == wanted]
    live = values.get("points", "point_live")[..., mine] == 1
    sentences = values.get("points", "point_sentence")[..., mine]
    found = np.take_along_axis(sentences, live.argmax(axis=-1)[..., None], axis=-1)[..., 0]
    return np.where(live.any(axis=-1), found, "").astype(object)


def _waiting(book: Book, eye: EyeValues, at: tuple[int, ...]) -> str:
    """How many warnings wait to be read, and where that is confirmed."""
    if eye.warnings_live[at] == 0 or eye.warnings_confirmed[at] == 1:
        return ""
    return _warnings_wait(book, eye, at)


def _warnings_wait(book: Book, eye: EyeValues, at: tuple[int, ...]) -> str:
    w, side = book.words.get, EYES[at[1]]
    opening = w("word", f"{side}_opening") + w("word", "warnings_to_read")
    told = f"{opening}{eye.warnings_live[at]:.0f}{w('word', 'warnings_wait')}"
    return told + book.where["warnings_confirmed_by", side]
