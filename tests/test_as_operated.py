"""The follow-up follows the plan as it was operated by: no later edit of the plan changes an error in silence."""

from __future__ import annotations

import copy
from collections.abc import Iterable
from typing import Any

import numpy as np
import pytest

from builder.engine.model import Model
from builder.engine.spec.model import Input
from builder.engine.values import cell_values
from builder.planner.exchange.casefile import input_slots, typed_cells
from builder.planner.reference.plan.cells import Values
from tests.support.followed import Case, case_of, evaluate, of_right
from tests.support.workbooks import by_key, expected

EYES_OPERATED = ("1-cone-both-eyes", "followup-one-visit", "followup-five-visits")
AFTERWARDS = ("implanted_", "operated_", "printed_", "visit", "after_", "again_", "aphakic_", "checked_code")
CONFIRMED = ("warnings_confirmed_", "confirmed_slips", "map_", "earlier[")
PLANNED = ("written_sphere", "written_cylinder", "written_axis")  # as the theatre page prints them
PRINTED = ("printed_sphere", "printed_cylinder", "printed_axis")
MEAN, CYLINDER = 0.02, 0.06  # D: what the code's own steps (0.01 D, a degree of the marks) let through
WITHHELD = 3
EDITED = 80  # edits of each eye, at least


def _others(model: Model, item: Input, typed: Any) -> list[Any]:
    """What a person might type into an input afterwards instead."""
    words = model.spec.words
    if item.type == "choice":
        return [word for key in item.choices if (word := words.get("choice", key)) != typed]
    if item.type == "listed":
        return ["Example Plover", "Example Wren"]
    if item.type != "number" or not isinstance(typed, int | float):
        return []
    step = 1.0 if item.unit == "degrees" else 0.02
    return [round(typed + by * step, 2) for by in (-20, -5, -1, 1, 5, 20)]


def _edits(model: Model, case: Case) -> list[tuple[str, Case]]:
    """Every planning input of the right eye edited, and each taken away."""
    found = []
    for (owner, key), slot in input_slots(model).items():
        if owner != "right" or key.startswith((*AFTERWARDS, *CONFIRMED)) or slot.row.input is None:
            continue
        typed = case["right"].get(key)
        for other in [*_others(model, slot.row.input, typed), *([None] if typed is not None else [])]:
            edited = copy.deepcopy(case)
            edited["right"][key] = other
            if other is None:
                del edited["right"][key]
            found.append((f"{key}: {typed} -> {other}", edited))
    assert len(found) > EDITED
    return found


def _operated(model: Model, name: str, **more: Any) -> tuple[Case, Values]:
    """An eye that was operated on, everything that belongs to it typed."""
    case = case_of(name, **more)
    case["right"].setdefault("implanted_lens", case["right"]["lens"])
    values = evaluate(model, case)
    assert of_right(values, "against_place") == [1]
    return case, values


def _said(model: Model, values: Values, key: str, numbers: Iterable[int]) -> set[Any]:
    """What these cases say of the right eye in a row."""
    return {by_key(model, cell_values(model, values, int(number)), key, "right") for number in numbers}


def _errors(values: Values) -> np.ndarray:
    return np.stack([values.get("eyes", key)[:, 0] for key in ("error_mean", "error_cylinder")], axis=-1)


@pytest.mark.parametrize("name", EYES_OPERATED)
def test_an_edit_after_the_operation_is_told_or_changes_nothing(model: Model, name: str) -> None:
    """With the code that was checked: the same errors, or none and the reason."""
    case, first = _operated(model, name)
    edits = _edits(model, case)
    values = evaluate(model, *(edited for _, edited in edits))
    errors, place = _errors(values), values.get("eyes", "against_place")[:, 0]
    unrefused = values.get("eyes", "follow_refused")[:, 0] == 0
    withheld = place == WITHHELD
    assert withheld.sum() > EDITED / 2
    assert np.isnan(errors[withheld]).all()
    off = np.abs(errors - _errors(first)) > (MEAN, CYLINDER)
    silent = [what for (what, _), bad in zip(edits, off.any(axis=-1), strict=True) if bad]
    assert not silent
    known = ~withheld & unrefused & ~np.isnan(values.get("eyes", "lens_power")[:, 0])
    assert not np.isnan(errors[known, 0]).any()
    assert (values.get("eyes", "outcome_shown")[withheld, 0] == 0).all(), "no line of the register either"
    judged = withheld & ~np.isnan(values.get("eyes", "judge_visit")[:, 0])
    assert _said(model, values, "against_said", np.flatnonzero(judged)) <= {
        model.spec.words.get("word", "against_changed"),
        None,
    }


def test_the_goal_edited_afterwards_changes_no_error(model: Model) -> None:
    """Of an eye without a code, whose follow-up once went from one sign to the other: what was implanted counts."""
    case = case_of("followup-one-visit")
    del case["right"]["checked_code"]
    cases = [copy.deepcopy(case) for _ in range(4)]
    for edited, goal in zip(cases, (-0.5, -2.0, 0.5, -4.0), strict=True):
        edited["right"]["goal"] = goal
    values = evaluate(model, *cases)
    assert len(set(values.get("eyes", "lens_power")[:, 0])) == len(cases)
    np.testing.assert_allclose(_errors(values), _errors(values)[:1].repeat(len(cases), axis=0), atol=1e-12)
    assert _said(model, values, "against_said", range(len(cases))) == {model.spec.words.get("word", "against_unknown")}


@pytest.mark.parametrize("name", EYES_OPERATED)
def test_the_printed_prediction_stands_whatever_is_edited(model: Model, name: str) -> None:
    """Typed from the page, of a lens implanted as printed there: the errors that were, whatever the plan says now."""
    case, first = _operated(model, name)
    printed = dict(zip(PRINTED, (round(float(n), 2) for n in of_right(first, *PLANNED)), strict=True))
    case["right"] |= printed
    edits = _edits(model, case)
    values = evaluate(model, *(edited for _, edited in edits))
    place = values.get("eyes", "against_place")[:, 0]
    judged = ~np.isnan(values.get("eyes", "judge_visit")[:, 0]) & ~np.isnan(values.get("eyes", "fitted_power")[:, 0])
    held = judged & (place == 2)
    assert held.sum() > EDITED / 2 and not (place == WITHHELD).any()
    assert np.ptp(_errors(values)[held], axis=0).max() < 1e-9
    assert (np.abs(_errors(values) - _errors(first))[held] < (MEAN, CYLINDER)).all()


def test_a_corrected_reading_is_taken_with_the_code_of_today(model: Model) -> None:
    """Who corrects a reading afterwards types today's code: then the errors are of the corrected plan."""
    case, first = _operated(model, "1-cone-both-eyes")
    case["right"]["axial_length"] += 0.1
    changed = evaluate(model, case)
    assert np.isnan(_errors(changed)[0]).all()
    case["right"]["operated_code"] = float(of_right(changed, "plan_code")[0])
    again = evaluate(model, case)
    assert of_right(again, "against_place") == [1]
    assert 0.1 < abs(_errors(again)[0, 0] - _errors(first)[0, 0]) < 0.4, "0.1 mm is worth some 0.25 D"


def test_the_sentence_and_the_head_line_say_it(model: Model) -> None:
    """On the follow-up, and where to type."""
    case, _ = _operated(model, "1-cone-both-eyes")
    case["right"]["axial_length"] += 0.1
    cells = expected(model, [typed_cells(model, case)])[0]
    assert "changed after the operation" in by_key(model, cells, "follow_next", "right")
    assert by_key(model, cells, "error_mean", "right") is None
    assert by_key(model, cells, "best_axis", "right") is not None, "how to turn the lens needs no prediction"


def test_an_eye_judged_by_a_page_without_a_code_gives_no_line(model: Model) -> None:
    """Its errors are of the printed prediction; the register's would be of today's plan, which may be another."""
    case = case_of("followup-one-visit", printed_sphere=-0.5, printed_cylinder=-0.25, printed_axis=90)
    del case["right"]["checked_code"]
    code = evaluate(model, case_of("followup-one-visit")).get("eyes", "plan_code")[0, 0]
    coded = copy.deepcopy(case)
    coded["right"]["operated_code"] = float(code)
    values = evaluate(model, case, coded)
    assert list(values.get("eyes", "outcome_shown")[:, 0]) == [0, 1]
    (said,) = _said(model, values, "outcome_said", [0])
    assert "no code" in said
