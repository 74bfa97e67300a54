"""Runs the whole calculation in its order and gathers a value for every row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.reference.constants import CONSTANTS
from builder.reference.corneal_map import DEGREES
from builder.reference.plan import (
    backup,
    cornea,
    cylinder,
    dial,
    drawing,
    fit,
    follow_cause,
    follow_turn,
    follow_up,
    follow_words,
    formulas,
    incisions,
    odds,
    outcome,
    page,
    points,
    power,
    proof,
)
from builder.reference.plan import map as corneal
from builder.reference.plan.cells import EyeValues, Values, flag, select, there
from builder.reference.plan.lenses import read_lenses
from builder.reference.plan.readings import Reader, both, read_keratometry
from builder.reference.plan.second import second_reading
from builder.spec.model import EYES, Input, Point
from builder.spec.words import Words

Typed = Mapping[str, NDArray[Any]]
REASON_LINES = 8
OWNERS = ("plan", "eyes", "own_lenses", "meridians", "earlier", "cuts", "checkups")
EYE_LISTS = {
    "meridians": ("map_degrees", DEGREES),
    "earlier": ("earlier_number", np.arange(1.0, 7.0)),
    "cuts": ("cut_number", np.arange(1.0, 17.0)),
    "checkups": ("checkup_number", follow_up.NUMBERS),
}


@dataclass(frozen=True)
class Book:
    """What the calculation must know of the workbook beside medicine:
    inputs, words, points, places in words, examples."""

    inputs: tuple[Input, ...]
    words: Words
    points: tuple[Point, ...]
    where: Mapping[tuple[str, str], str]
    examples: Mapping[str, list[Any]]
    proofs: Mapping[str, Mapping[str, NDArray[Any]]]
    checks: Sequence[proof.Check]
    needs: Sequence[str]
    need_steps: Mapping[str, str]
    fit_items: Sequence[str]
    edition: str


def evaluate(book: Book, typed: Typed) -> Values:
    """The values of all rows for typed cells: plan (n,), eyes (n, 2), own lenses (n, 6), as objects (None: blank)."""
    with np.errstate(all="ignore"):
        return _evaluate(book, typed)


def _evaluate(book: Book, typed: Typed) -> Values:
    values, words = Values(), book.words
    reader = Reader(book.inputs, words, typed, values)
    lens_labels = [words.label(key) for key in reader.inputs if reader.owner(key) == "own_lenses"]
    read_lenses(reader, book.examples, book.where, lens_labels)
    read_keratometry(reader)
    later = ("peak_k", "lens_choice", "again_lens", "sulcus_lens", "implanted_lens", "visit_to_judge")
    done = {key for _, key in values.rows}
    reader.read_all([key for key in reader.inputs if key not in done and key not in later])
    names = values.get("lenses", "lens_name")
    for key in ("lens_choice", "again_lens"):
        reader.read(key, names=lambda patient: list(names[patient]))
    backup.read_sulcus_lens(reader, words)
    follow_up.read_inputs(reader)
    cornea.convert_readings(values, words)
    cornea.back_surface(values, words)
    candidates = cornea.candidates(values, words, corneal.read_map(values, words))
    cornea.after_laser_powers(values, words, candidates)
    cornea.choose_power(values, words, candidates)
    eye = EyeValues(values)

    def peak_below(accepted: NDArray[Any]) -> NDArray[Any]:
        peak = cornea.power_of_reading(values, words, accepted)
        return both(peak, eye.mean_k, peak < eye.mean_k - CONSTANTS.rounding_slack)

    used_peak = cornea.power_of_reading(values, words, reader.read("peak_k", peak_below))
    values.put("eyes", peak_power=used_peak, peak_over_mean=used_peak - eye.mean_k)
    formulas.position_power(values, words)
    formulas.chosen_lens(values)
    formulas.four_formulas(values, words, formulas.positions(values))
    formulas.lead(values, words)
    power.step(values, words)
    power.around(values)
    power.other_powers(values)
    cylinder.sources(values, words)
    cylinder.options(values, words)
    corneal.visits(values)
    fit.axes(values, words)
    second_reading(values, words)
    _goal_experience(values, words)
    odds.what_if(values, words)
    odds.lessons(values)
    odds.spoken(values, words)
    drawing.drawings(values, words)
    incisions.clearances(values, words)
    incisions.dial_reading(values, words)
    backup.backup(values, words)
    proof.examples(values, words, book.proofs, eye.mean_k.shape[0])
    proof.checks(values, words, book.checks)
    _points(book, values)
    _first_sheet(book, values)
    dial.dial(values, words)
    page.pages(values, words)
    follow_up.implanted(values, words)
    follow_up.visits(values, words)
    follow_cause.judged(values)
    follow_turn.turning(values, words)
    follow_turn.on_the_dial(values)
    follow_turn.exchange(values)
    follow_words.answers(values, words)
    outcome.outcome(values, words, book.edition)
    return values


def _goal_experience(values: Values, words: Words) -> None:
    eye, slack, w = EyeValues(values), CONSTANTS.rounding_slack, words.get
    low, middle = eye.mean_k < CONSTANTS.goal_band_low - slack, eye.mean_k <= CONSTANTS.goal_band_high + slack
    said = select(
        [(~there(eye.mean_k), ""), (low, w("word", "goal_low_band")), (middle, w("word", "goal_middle_band"))],
        w("word", "goal_high_band"),
    )
    values.put("eyes", goal_published=formulas.published_goal(eye.mean_k), goal_experience=said)


def _points(book: Book, values: Values) -> None:
    words, eye, w = book.words, EyeValues(values), book.words.get
    owners = {item.key: next(owner for owner in OWNERS if (owner, item.key) in values.rows) for item in book.inputs}
    of_eyes = [key for key, owner in owners.items() if owner == "eyes"]
    of_lists = {key: owner for key, owner in owners.items() if owner in EYE_LISTS}
    used = w("word", "used")
    typed = np.zeros(eye.mean_k.shape)
    for key in of_eyes:
        typed = typed + flag(values.get("eyes", f"state_{key}") == used) + values.get("eyes", f"refused_{key}")
    for key, owner in of_lists.items():
        cells = flag(values.get(owner, f"state_{key}") == used) + values.get(owner, f"refused_{key}")
        typed = typed + cells.sum(axis=-1)
    values.put("eyes", typed_count=typed, eye_used=flag(typed > 0))
    fit.verdict(values, words, book.fit_items)
    lacking = points.needs(values, words, book.needs)
    live = points.eye_points(values, words, lacking) | {
        f"refused_{key}": values.get("eyes", f"refused_{key}") for key in of_eyes
    }
    live |= {
        f"refused_{key}": flag(values.get(owner, f"refused_{key}").sum(axis=-1) > 0) for key, owner in of_lists.items()
    }
    plan_live = points.plan_points(values, eye.eye_used)
    plan_live |= {p.key: values.get("plan", p.key) for p in book.points if p.of_plan and p.refuses}
    of_plan, of_eye = ([p for p in book.points if p.of_plan is owner] for owner in (True, False))
    order = [p.key for p in of_eye]
    # An unused eye has no points but those of what is typed: nothing is.
    in_use = {key: value * eye.eye_used for key, value in live.items()}
    sentences = {p.key: _eye_sentence(book, values, p) for p in of_eye}
    count, by_level = points.put_points(
        values, words, "points", "point", order, in_use, sentences, {p.key: p.level for p in of_eye}
    )
    plan_sentences = {p.key: _plan_sentence(book, values, p) for p in of_plan}
    plan_count, plan_levels = points.put_points(
        values,
        words,
        "plan_points",
        "plan_point",
        [p.key for p in of_plan],
        plan_live,
        plan_sentences,
        {p.key: p.level for p in of_plan},
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
        warnings_live=by_level["soft"] + by_level["confirm"],
    )
    points.status(values, words)


def _eye_sentence(book: Book, values: Values, point: Point) -> NDArray[Any]:
    w = book.words.get
    shape = values.get("eyes", "mean_k").shape
    result = np.empty(shape, dtype=object)
    for patient, side in np.ndindex(shape):
        at = book.where[point.cell, EYES[side]]
        opening = w("word", f"{EYES[side]}_opening")
        if point.refuses and ("eyes", point.cell) not in values.rows:
            result[patient, side] = opening + _list_sentence(book, values, point.cell, (patient, side)) + at
        elif point.refuses:
            state = values.get("eyes", f"state_{point.cell}")[patient, side]
            result[patient, side] = (
                f"{opening}{book.words.label(point.cell)}{w('word', 'colon')}{state}{w('word', 'type_again')}{at}"
            )
        else:
            result[patient, side] = f"{opening}{w('point', point.key)}{w('word', 'type_at')}{at}"
    return result


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
        states = values.get("plan", f"state_{point.cell}")
        return np.array(
            [
                f"{book.words.label(point.cell)}{w('word', 'colon')}{state}{w('word', 'type_again')}{at}"
                for state in states
            ],
            dtype=object,
        )
    return np.full(
        values.get("plan", "file_number").shape, f"{w('point', point.key)}{w('word', 'type_at')}{at}", dtype=object
    )


def _first_sheet(book: Book, values: Values) -> None:
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
