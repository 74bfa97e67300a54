"""The reasons that hold a plan back, each as a sentence that says where to go, and how many there are of each level.

An echo: comparisons, counts, and sentences put together, as the cells have them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.model import Point
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.corneal_map import DEGREES
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan import confirm, follow_up, points
from builder.planner.reference.plan.book import Book
from builder.planner.reference.plan.cells import Array, EyeValues, Values, flag, there
from builder.planner.reference.plan.judge import name_key
from builder.planner.reference.plan.needs import needs
from builder.planner.reference.plan.slip_points import slip_points
from builder.planner.reference.plan.status import status

OWNERS = ("plan", "eyes", "own_lenses", "meridians", "earlier", "cuts", "checkups", "to_confirm")
EYE_LISTS = {
    "meridians": ("map_degrees", DEGREES),
    "earlier": ("earlier_number", np.arange(1.0, 7.0)),
    "cuts": ("cut_number", np.arange(1.0, 17.0)),
    "checkups": ("checkup_number", follow_up.NUMBERS),
    "to_confirm": ("slip_number", np.arange(1.0, 100.0)),
}

ENTRIES = (  # by which the two eyes are compared
    *("axial_length", "chamber_depth", "corneal_diagnosis", "ring_flat", "ring_steep", "zone3_flat", "zone3_steep"),
    *("goal_refraction", "refraction_sphere", "refraction_cylinder"),
)


def _inputs_of_eyes(book: Book, values: Values) -> tuple[list[str], dict[str, str]]:
    """The inputs of an eye, and those of a list of the eyes with its name."""
    owners = {item.key: next(owner for owner in OWNERS if (owner, item.key) in values.rows) for item in book.inputs}
    of_eyes = [key for key, owner in owners.items() if owner == "eyes"]
    return of_eyes, {key: owner for key, owner in owners.items() if owner in EYE_LISTS}


def count_typed(book: Book, values: Values) -> None:
    """How many cells of each eye are typed, used or refused, and whether the eye is in use."""
    of_eyes, of_lists = _inputs_of_eyes(book, values)
    used = book.words.get("word", "used")
    typed = np.zeros(values.get("eyes", "mean_k").shape)
    for key, owner in {**dict.fromkeys(of_eyes, "eyes"), **of_lists}.items():
        cells = flag(values.get(owner, f"state_{key}") == used) + values.get(owner, f"refused_{key}")
        typed = typed + cells.reshape(*typed.shape, -1).sum(axis=-1)
    values.put("eyes", typed_count=typed, eye_used=flag(typed > 0))


def put_reasons(book: Book, values: Values) -> None:
    """Refused inputs and points of the plan and of each eye, with their sentences and counts."""
    words, eye = book.words, EyeValues(values)
    of_eyes, of_lists = _inputs_of_eyes(book, values)
    lacking = needs(values, words, book.needs, book.need_steps)
    slips = {key: flag(value) for key, value in slip_points(values, words).items()}
    live = (
        points.eye_points(values, words, lacking)
        | slips
        | {f"refused_{key}": values.get("eyes", f"refused_{key}") for key in of_eyes}
    )
    live |= {
        f"refused_{key}": flag(values.get(owner, f"refused_{key}").sum(axis=-1) > 0) for key, owner in of_lists.items()
    }
    plan_live = _plan_points(values, eye.eye_used)
    plan_live |= {p.key: values.get("plan", p.key) for p in book.points if p.of_whole and p.refuses}
    of_whole, of_eye = ([p for p in book.points if p.of_whole is owner] for owner in (True, False))
    order = [p.key for p in of_eye]
    # An unused eye has no points but those of what is typed: nothing is.
    in_use = {key: value * eye.eye_used for key, value in live.items()}
    in_use["yes_without_slip"] = confirm.stale_yes(values, words, of_eye, in_use)
    sentences = {p.key: _eye_sentence(book, values, p) for p in of_eye}
    count, by_level = points.put_points(
        values, words, "points", "point", order, in_use, sentences, {p.key: p.level for p in of_eye}
    )
    plan_sentences = {p.key: _plan_sentence(book, values, p) for p in of_whole}
    plan_count, plan_levels = points.put_points(
        values,
        words,
        "plan_points",
        "plan_point",
        [p.key for p in of_whole],
        plan_live,
        plan_sentences,
        {p.key: p.level for p in of_whole},
    )
    values.put(
        "plan", plan_point_count=plan_count, plan_point_stops=plan_levels["stop"], plan_point_opens=plan_levels["open"]
    )
    values.put(
        "eyes",
        point_count=count,
        stop_count=by_level["stop"] + plan_levels["stop"][:, None],
        confirm_count=by_level["confirm"],
        open_count=by_level["open"] + plan_levels["open"][:, None],
        soft_count=by_level["soft"],
    )
    confirm.confirmations(book, values)
    status(values, words)


def _plan_points(values: Values, eye_used: Array) -> points.Live:
    """The points of the plan beside its refused inputs."""
    any_eye = eye_used.sum(axis=1) > 0
    number, prepared, checked = (values.get("plan", key) for key in ("file_number", "prepared_by", "checked_by"))
    again, day = values.get("plan", "again_file_number"), values.get("plan", "plan_date")
    lens = values.get("own_lenses", "own_lens_refusals")
    live: dict[str, NDArray[np.bool_]] = {
        "no_file_number": ~there(number) & any_eye,
        "differs_number": there(number) & there(again) & (_folded(number) != _folded(again)),
        "date_missing": ~there(day) & (values.get("plan", "refused_plan_date") == 0) & any_eye,
        "date_ahead": day > CONSTANTS.edition_day + CONSTANTS.date_ahead_years * CONSTANTS.days_a_year,
        "again_missing_number": there(number)
        & ~there(again)
        & any_eye
        & (values.get("plan", "refused_again_file_number") == 0),
        "no_preparer": ~there(prepared) & any_eye,
        "no_checker": ~there(checked) & any_eye,
        "same_person": there(prepared)
        & np.array([name_key(p) == name_key(c) for p, c in zip(prepared, checked, strict=True)]),
    }
    live |= {f"own{k + 1}_refused": lens[:, k] > 0 for k in range(lens.shape[1])}
    return {key: value.astype(float) for key, value in live.items()}


def _folded(texts: NDArray[Any]) -> NDArray[Any]:
    """File numbers as they are compared: in capitals, and a typed number as its digits."""
    return np.array([text.upper() if isinstance(text, str) else f"{text:.0f}" for text in texts], dtype=object)


def _eye_sentence(book: Book, values: Values, point: Point) -> NDArray[Any]:
    w = book.words.get
    shape = values.get("eyes", "mean_k").shape
    result = np.empty(shape, dtype=object)
    for side, eye in enumerate(EYES):
        opening = w("word", f"{eye}_opening")
        # Without a cell of its own it sends to the fellow's entry, not to one of this eye.
        places = values.get("eyes", "refused_place")[:, 1 - side]
        at: NDArray[Any] | str = book.where[point.cell, eye] if point.cell else places
        if not point.refuses:
            result[:, side] = f"{opening}{w('point', point.key)}{w('word', 'type_at')}" + at
        elif ("eyes", point.cell) in values.rows:
            result[:, side] = opening + _of_states(book, point, values.get("eyes", f"state_{point.cell}")[:, side], at)
        else:
            told = [_list_sentence(book, values, point.cell, (patient, side)) for patient in range(shape[0])]
            result[:, side] = opening + np.array(told, dtype=object) + at
    return result


def _of_states(book: Book, point: Point, states: NDArray[Any], at: Any) -> NDArray[Any]:
    """What is wrong with an input by its state; of a text that should be a number or a date, how to type it, too."""
    w = book.words.get
    label, again = f"{book.words.label(point.cell)}{w('word', 'colon')}", w("word", "type_again")
    hints = {w("word", "text_value"): w("word", point.hint)} if point.hint else {}
    told = {state: f"{label}{state}{again}{at}{hints.get(state, '')}" for state in map(str, states)}
    return np.array([told[str(state)] for state in states], dtype=object)


def _list_sentence(book: Book, values: Values, key: str, eye: tuple[int, int]) -> str:
    """The first refused cell of a list: which, and why."""
    w = book.words.get
    owner = next(owner for owner in EYE_LISTS if (owner, key) in values.rows)
    refused = values.get(owner, f"refused_{key}")[eye]
    if not refused.any():
        return ""
    at = int(refused.argmax())
    lead, numbers = EYE_LISTS[owner]
    state = values.get(owner, f"state_{key}")[eye][at]
    which = f"{book.words.label(key)}{w('word', 'comma')}{book.words.label(lead)}{w('word', 'space')}{numbers[at]:.0f}"
    return f"{which}{w('word', 'colon')}{state}{w('word', 'type_again')}"


def _plan_sentence(book: Book, values: Values, point: Point) -> NDArray[Any]:
    w = book.words.get
    if point.key.startswith("own") and not point.cell:
        return values.get("own_lenses", "own_lens_sentence")[:, int(point.key[3]) - 1]
    at = book.where[point.cell, ""]
    if point.refuses:
        return _of_states(book, point, values.get("plan", f"state_{point.cell}"), at)
    told = f"{w('point', point.key)}{w('word', 'type_at')}{at}"
    return np.full(values.get("plan", "file_number").shape, told, dtype=object)


def refused_places(values: Values, where: Mapping[tuple[str, str], str]) -> None:
    """The cell, in words, of the first refused entry of each eye."""
    refused = np.stack([values.get("eyes", f"refused_{key}") for key in ENTRIES], axis=-1)
    at = np.array([[where[key, side] for key in ENTRIES] for side in EYES], dtype=object)
    first = np.take_along_axis(np.broadcast_to(at, refused.shape), refused.argmax(axis=-1)[..., None], axis=-1)[..., 0]
    values.put("eyes", refused_place=np.where(refused.any(axis=-1), first, "").astype(object))
