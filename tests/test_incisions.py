"""Clearances round the limbus: laws of the circle, and every fifth meridian in a spreadsheet program."""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from builder.planner.reference import circle
from tests.support.filled import fill
from tests.support.judged import areas_told, as_numbers
from tests.support.many_states import in_gnumeric
from tests.support.workbooks import at, by_key, case_files, differences, expected

PLACES = st.floats(0, 360, allow_nan=False)


@given(PLACES, PLACES, st.floats(-720, 720))
def test_turning_everything_changes_no_distance(first: float, second: float, turn: float) -> None:
    """A law of the circle."""
    assert circle.apart(first + turn, second + turn) == pytest.approx(circle.apart(first, second), abs=1e-6)


@given(PLACES, PLACES)
def test_both_ways_round_make_a_whole_turn(first: float, second: float) -> None:
    """A law of the circle; the nearer way is the distance, and a mirrored eye has the same distance."""
    there, back = float(circle.turn(first, second)), float(circle.turn(second, first))
    assert there + back == pytest.approx(360, abs=2e-6) or max(there, back) < 2e-6
    assert min(there, back) == pytest.approx(float(circle.apart(first, second)), abs=3e-6)
    assert circle.apart(180 - first, 180 - second) == pytest.approx(circle.apart(first, second), abs=1e-6)


def test_width_as_an_angle() -> None:
    """A chord as long as the radius spans 60 degrees (geometry), half of it 30; one through the middle spans 180."""
    assert circle.half_width(5.5, 11.0) == pytest.approx(30)
    assert circle.half_width(11.0, 11.0) == pytest.approx(90)


def test_along_the_limbus() -> None:
    """All round is the circumference (geometry)."""
    assert circle.along_limbus(360, 11.7) == pytest.approx(np.pi * 11.7)


def _case(**right: Any) -> dict[str, Any]:
    case = tomllib.loads(case_files()["ready"].read_text(encoding="utf-8"))
    del case["about"]
    case["right"] |= right
    return case


def _found(model: Model, case: dict[str, Any]) -> dict[str, Any]:
    cells = expected(model, [typed_cells(model, case)])[0]
    keys = (
        "incision_warning",
        "incision_to_tunnel_degrees",
        "incision_to_tunnel_mm",
        "dial_reading",
        "marks_axis",
        "status",
    )
    return {key: by_key(model, cells, key, "right") for key in keys}


def test_tunnel_across_zero_by_hand(model: Model) -> None:
    """Positions 355 and 35 are 40 degrees apart; 2.4 mm in 11.7 take asin(2.4/11.7) = 11.84 of them (by hand)."""
    found = _found(model, _case(incision_meridian=355, tunnel_entry=35))
    assert found["incision_to_tunnel_degrees"] == pytest.approx(40 - 11.8366, abs=1e-3)
    assert found["incision_to_tunnel_mm"] == pytest.approx(28.1634 * np.pi * 11.7 / 360, abs=1e-3)
    assert found["incision_warning"] == "clear"
    assert _found(model, _case(incision_meridian=5, tunnel_entry=350))["incision_warning"] == "close"
    assert _found(model, _case(incision_meridian=359, tunnel_entry=8))["incision_warning"] == "crosses"
    assert _found(model, _case(incision_meridian=359, ring_segments="yes"))["incision_warning"] == "not known"


def test_dial_is_set_back_by_what_the_mark_is_off(model: Model) -> None:
    """Reading = axis - (found - meant), folded (clinical convention): 4 degrees counter-clockwise found: 4 less."""
    found = _found(model, _case(mark_meant=180, mark_found=184))
    assert (found["marks_axis"] - found["dial_reading"]) % 180 == pytest.approx(4, abs=1e-5)
    across = _found(model, _case(mark_meant=2, mark_found=358))
    assert (across["dial_reading"] - across["marks_axis"]) % 180 == pytest.approx(4, abs=1e-5)


def test_every_fifth_meridian(model: Model, gnumeric: str, tmp_path: Path) -> None:
    """An incision at 0, 5 ... 355: every formula cell as the reference has it; all words come up."""
    base = tomllib.loads(case_files()["incision-across-zero"].read_text(encoding="utf-8"))
    del base["about"]
    cases = []
    for meridian in range(0, 360, 10):
        case = copy.deepcopy(base)
        case["right"]["incision_meridian"], case["left"]["incision_meridian"] = meridian, meridian + 5
        cases.append(typed_cells(model, case))
    fill(model, {}, tmp_path / "blank.xlsx")
    states = [{at(model, place): value for place, value in case.items()} for case in cases]
    wanted = expected(model, cases)
    wrong = [
        line
        for cells, told in zip(wanted, in_gnumeric(tmp_path / "blank.xlsx", states, areas_told(model)), strict=True)
        for line in differences(model, cells, as_numbers(model, cells, told))
    ]
    assert not wrong, "\n".join(wrong[:20])
    words = {by_key(model, cells, "incision_warning", eye) for cells in wanted for eye in ("right", "left")}
    assert words == {"crosses", "close", "clear"}
