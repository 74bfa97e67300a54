"""The follow-up on the sheet: a published eye, one worked by hand, laws, and that a refused cell withholds it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from builder.engine.model import Model
from builder.planner.exchange.casefile import input_slots, typed_cells
from builder.planner.reference.eyes import EYES
from builder.planner.reference.vectors import axis_difference
from builder.planner.values import evaluate_cases
from tests.support.followed import case_of, evaluate, lens_cylinder_for, of_right, refraction_of, sealed
from tests.support.workbooks import by_key, case_files, expected, typed_case

FOLLOWED = [name for name in case_files() if name.startswith("followup-")]
PUT = {"implanted_power": 21.0, "implanted_cylinder": 2.0, "implanted_axis": 88}  # as the plan of "ready" has it
RESULTS = (
    "error_mean",
    "error_cylinder",
    "rotation_from_plan",
    "best_axis",
    "turn_by",
    "cylinder_after_turn",
    "exchange_power",
    "second_lens_power",
    "effective_k",
    "incision_effect",
)


def _with_lens(model: Model, effect: float, marks: float, visit: dict[str, float], **more: Any) -> Any:
    """A regular eye with a lens of an effect (D) at the cornea, its marks seen at an axis, and one visit."""
    typed = {"implanted_lens": "Example Heron", "implanted_power": 21.5, "implanted_axis": 90.0, **more}
    before = evaluate(model, case_of("ready", implanted_cylinder=1.0, **typed))
    cylinder = lens_cylinder_for(before, effect)
    case = case_of("ready", implanted_cylinder=cylinder, **typed, visit=[{**visit, "lens_axis": marks, "day": 60}])
    return evaluate(model, case)


def test_an_invented_eye_worked_by_hand_closes(model: Model) -> None:
    """Cornea 6.40 D at 70, effect of the lens 5.00 D, its marks 25 degrees off at 95; all at the corneal plane.

    Crossed as double-angle vectors: 6.40 (cos 140, sin 140) - 5.00 (cos 190, sin 190) = (0.0214, 4.9821): 4.9821 D
    with its plus axis at 44.877, principal powers +2.4911 and -2.4911 with mean 0. At 12 mm, F/(1 + 0.012 F): +2.4188
    and -2.5678, that is +2.4188 -4.9866 x 134.877. Turned back by 25 degrees, 6.40 - 5.00 = 1.40 D are left.
    """
    values = _with_lens(model, 5.0, 95.0, {"sphere": 2.4188, "cylinder": -4.9866, "axis": 134.877})
    cylinder, axis, turn, left = of_right(values, "needed_cylinder", "best_axis", "turn_by", "cylinder_after_turn")
    assert cylinder == pytest.approx(6.40, abs=1e-3)
    assert abs(axis_difference(axis, 70.0)) < 0.01
    assert turn == pytest.approx(-25, abs=0.01)
    assert left == pytest.approx(1.40, abs=1e-3)
    mean, sphere, last = of_right(values, "judged_mean", "turned_sphere", "turned_cylinder")
    assert mean == pytest.approx(0, abs=1e-3)
    assert sphere + last / 2 == pytest.approx(mean / (1 + 0.012 * mean), abs=0.01), "turning leaves the mean"


def test_a_published_eye_with_its_lens_turned_thirty_degrees(model: Model) -> None:
    """navas2010: -5.25 D before, the lens turned by 30 degrees leaves +2.50 -4.50 x 165: size of what is left against
    the angle. A cornea at 105 has its crossed cylinders at 105 + 45 + 15; sizes close within 0.5 D, 5 degrees."""
    values = _with_lens(model, 5.25, 135.0, {"sphere": 2.5, "cylinder": -4.5, "axis": 165.0})
    cylinder, axis, turn = of_right(values, "needed_cylinder", "best_axis", "turn_by")
    assert cylinder == pytest.approx(5.25, abs=0.5)
    assert abs(axis_difference(axis, 105.0)) < 5
    assert turn == pytest.approx(-30, abs=5)


@pytest.mark.parametrize("off", [-30.0, -12.0, 5.0, 30.0, 44.0])
def test_crossed_cylinders_are_turned_back(model: Model, off: float) -> None:
    """morlet2001: cylinder C, lens t off: sphere C sin t, cylinder -2C sin t, axis + 45 + t/2, at the cornea."""
    cylinder, steep = 2.5, 100.0
    size = cylinder * np.sin(np.radians(off))
    sphere, other = (f / (1 + 0.008 * f) for f in (size, -size))  # spectacles 8 mm in front
    seen = {"sphere": sphere, "cylinder": other - sphere, "axis": (steep + 45 + off / 2) % 180, "vertex": 8}
    values = _with_lens(model, cylinder, (steep + off) % 180, seen)
    axis, turn, left, mean = of_right(values, "best_axis", "turn_by", "cylinder_after_turn", "judged_mean")
    assert abs(axis_difference(axis, steep)) < 1e-5
    assert turn == pytest.approx(-off, abs=1e-5)
    assert left == pytest.approx(0, abs=1e-6)
    assert mean == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("off", [10.0, 25.0, 40.0])
def test_a_lens_stuck_off_its_axis(model: Model, off: float) -> None:
    """morlet2001: stuck t off, the best cylinder C cos 2t leaves C sin 2t."""
    cylinder, steep = 3.0, 60.0
    double = np.radians(2 * off)
    effect = cylinder * np.cos(double)
    plan = evaluate(
        model, case_of("ready", implanted_lens="Example Heron", implanted_power=21.5, implanted_cylinder=1.0)
    )
    worn = refraction_of(plan, cylinder, steep, lens_cylinder_for(plan, effect), steep + off).spectacles
    seen = {"sphere": float(worn.sphere), "cylinder": float(worn.cylinder), "axis": float(worn.axis)}
    values = _with_lens(model, effect, steep + off, seen)
    left, after = of_right(values, "left_size", "cylinder_after_turn")
    assert left == pytest.approx(cylinder * np.sin(double), abs=1e-6)
    assert after == pytest.approx(cylinder - effect, abs=1e-6)


def test_causes_add_up_to_what_is_left(model: Model) -> None:
    """What the plan left, what the turn adds and what the cornea adds make the whole, in every followed case."""
    values = evaluate_cases(model, [typed_case(name) for name in FOLLOWED])
    parts = [values.get("eyes", f"cause_{part}") for part in ("planned", "rotation", "cornea")]
    known = ~np.isnan(sum(parts))
    assert known.sum() >= 6
    np.testing.assert_allclose(sum(parts)[known], values.get("eyes", "left_size")[known], atol=1e-9)


def test_what_explains_the_mean_leaves_no_error(model: Model) -> None:
    """The K that explains the mean, typed as K with the position held, predicts the refraction that was found."""
    found = evaluate(model, case_of("followup-cured-by-turning"))
    k, error, deep = of_right(found, "effective_k", "error_mean", "effective_position")
    assert abs(error) > 0.5
    held = {"k_rule": "typed", "typed_k_reason": "test", "position_k_rule": "before laser", "before_laser_k": 43.68}
    again = evaluate(model, case_of("followup-cured-by-turning", typed_k=float(k), **held))
    assert of_right(again, "lead_position") == pytest.approx(of_right(found, "lead_position"))
    power, cylinder, axis = of_right(found, "fitted_power", "fitted_cylinder", "fitted_axis")
    lens = {"implanted_power": float(power), "implanted_cylinder": float(cylinder), "implanted_axis": float(axis)}
    again = sealed(
        model, case_of("followup-cured-by-turning", typed_k=float(k), implanted_lens="Example Heron", **lens, **held)
    )
    assert of_right(again, "error_mean")[0] == pytest.approx(0, abs=1e-6)
    assert 2 < deep < 10


def _checked_again(model: Model, cases: list[dict[Any, Any]]) -> list[dict[Any, Any]]:
    """The cases with the codes that they make typed wherever some were: axes are part of a plan, and so of its code."""
    for row, key in (("plan_code", "typed_checked_code"), ("warnings_code", "typed_warnings_confirmed_code")):
        codes = evaluate_cases(model, cases).get("eyes", row)
        for (eye, _), slot in model.layout.cells("eyes", key).items():
            for case, code in zip(cases, codes[:, EYES.index(eye)], strict=True):
                if slot.place in case and not np.isnan(code):
                    case[slot.place] = float(code)
    return cases


@pytest.mark.parametrize("angle", [7.0, 90.0, 133.5])
def test_turning_everything_turns_the_best_axis(model: Model, angle: float) -> None:
    """Optics knows no preferred angle: axes turn with the eye, sizes stay; a mirrored eye turns the other way."""
    map_cells = {slot.place for slot in model.layout.slots if slot.row.key.startswith("typed_map_")}
    bare = [{at: value for at, value in typed_case(name).items() if at not in map_cells} for name in FOLLOWED]
    first = evaluate_cases(model, _checked_again(model, [dict(typed) for typed in bare]))  # a map is not turned here

    def changed(turn: Any) -> Any:
        slots = {slot.place: slot.row.input for slot in input_slots(model).values()}
        cases = []
        for case in bare:
            typed = dict(case)
            for place, value in typed.items():
                item = slots[place]
                if item is not None and item.unit == "degrees" and item.highest in (180, 360) and value <= item.highest:
                    typed[place] = turn(float(value), float(item.highest))
            cases.append(typed)
        return evaluate_cases(model, _checked_again(model, cases))

    turned, mirrored = changed(lambda a, circle: (a + angle) % circle), changed(lambda a, circle: (180 - a) % circle)
    sizes = ("error_mean", "error_cylinder", "left_size", "cause_rotation", "cylinder_after_turn", "exchange_power")
    for second in (turned, mirrored):
        for key in sizes:
            np.testing.assert_allclose(first.get("eyes", key), second.get("eyes", key), atol=1e-9, err_msg=key)
    for key, sign in (("turn_by", 1.0), ("rotation_from_plan", 1.0)):
        one = first.get("eyes", key)
        assert np.isfinite(one).sum() > 6
        assert np.nanmax(np.abs(axis_difference(one, turned.get("eyes", key)))) < 2e-6, key
        assert np.nanmax(np.abs(axis_difference(-sign * one, mirrored.get("eyes", key)))) < 2e-6, key
    moved = axis_difference(turned.get("eyes", "best_axis"), first.get("eyes", "best_axis") + angle)
    assert np.nanmax(np.abs(moved)) < 2e-6


def test_plus_cylinder_is_the_same_visit(model: Model) -> None:
    """+1.00 +2.00 x 30 and +3.00 -2.00 x 120 are one refraction."""
    one, other = (
        evaluate(model, case_of("ready", **PUT, visit=[{**written, "lens_axis": 80, "vertex": 13.5, "day": 40}]))
        for written in (
            {"sphere": 1.0, "cylinder": 2.0, "axis": 30},
            {"sphere": 3.0, "cylinder": -2.0, "axis": 120},
        )
    )
    for key in RESULTS[:-1]:
        assert of_right(one, key) == pytest.approx(of_right(other, key), abs=1e-6), key


FOLLOW_UP_INPUTS = ("implanted_", "operated_", "printed_", "visit_to_judge", "after_", "visit[")


def test_a_refused_cell_withholds_the_follow_up(model: Model) -> None:
    """Any refused input of the follow-up: no result of it, plan not ready, a sentence that names the cell's sheet."""
    base = dict(typed_case("followup-cured-by-turning"))
    slots = [
        (key, slot)
        for (owner, key), slot in input_slots(model).items()
        if owner == "right" and key.startswith(FOLLOW_UP_INPUTS)
    ]
    assert len(slots) == 5 + 4 + 1 + 4 + 5 * 7
    clean = expected(model, [base])[0]
    assert all(by_key(model, clean, key, "right") is not None for key in RESULTS)
    for (key, slot), cells in zip(
        slots, expected(model, [{**base, slot.place: "rubbish"} for _, slot in slots]), strict=True
    ):
        assert by_key(model, cells, "status", "right") == "not ready", key
        shown = [name for name in RESULTS if by_key(model, cells, name, "right") is not None]
        assert not shown, f"{key}: {shown}"
        title = model.spec.sheet_title(slot.place.sheet)
        sentences = [
            cells[s.place] for s in model.layout.cells("points", "point_sentence").values() if s.side == "right"
        ]
        assert any(sentence and title in sentence for sentence in sentences), key


def test_which_visit_is_judged(model: Model) -> None:
    """The one asked for; else the later of two that agree; else the last; none where it is not complete."""
    seen = [{"sphere": s, "cylinder": -1.0, "axis": 90, "lens_axis": a} for s, a in ((0.0, 88), (0.25, 89), (1.5, 89))]
    for typed, wanted in (
        ({"visit": seen}, 2),
        ({"visit": seen[1:]}, 2),
        ({"visit": seen, "visit_to_judge": 1}, 1),
        ({"visit": [{**seen[0], "lens_axis": 80}, seen[1]]}, 2),
    ):
        assert of_right(evaluate(model, case_of("ready", **PUT, **typed)), "judge_visit") == [wanted]
    for typed in ({"visit": seen[:2], "visit_to_judge": 3}, {"visit": []}, {"visit": [{"sphere": 1.0}]}):
        assert np.isnan(of_right(evaluate(model, case_of("ready", **typed)), "judge_visit"))


def test_nothing_is_taken_from_the_plan(model: Model) -> None:
    """Power, cylinder and axis that were not typed are not there, released or not; only a lens's name may be."""
    seen = [{"sphere": 0.5, "cylinder": -1.0, "axis": 90, "lens_axis": 88}]
    rows = ("fitted_power", "fitted_cylinder", "fitted_axis", "error_mean")
    for keys in range(len(PUT)):
        typed = dict(list(PUT.items())[:keys])
        values = evaluate(model, case_of("ready", visit=seen, **typed))
        assert of_right(values, "released") == [1]
        there = ~np.isnan(np.array(of_right(values, *rows), dtype=float))
        assert there.tolist() == [keys > 0, keys > 1, keys > 2, keys > 1], "the mean needs no axis"
    values = evaluate(model, case_of("ready", visit=seen, **PUT))
    assert of_right(values, "fitted_lens", "fitted_power") == ["Example Heron", 21.0]
    assert not np.isnan(of_right(values, "error_mean")[0])


def test_read_gives_the_results_by_key(model: Model) -> None:
    """The keys that scripts rely on are published under their own names."""
    published = {row.publish for _, block in model.spec.blocks() for row in block.rows}
    assert set(RESULTS) <= published
    assert {
        f"visit[].{key}" for key in ("day", "sphere", "cylinder", "axis", "vertex", "acuity", "lens_axis")
    } <= published
    assert typed_cells(model, {"right": {"visit": [{"day": 1}] * 5}})
