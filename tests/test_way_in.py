"""The first sheet leads the way: what holds the plan back most is said first, and nothing is said twice."""

from typing import Any

import pytest

from builder.engine.layout import Place
from builder.engine.model import Model
from builder.planner.reference.constants import CONSTANTS
from tests.support.workbooks import Typed, by_key, expected, typed_case

Cells = dict[Place, Any]


def _cells(model: Model, name: str, **typed: Any) -> Cells:
    """A case with cells of the plan or of the right eye typed over it."""
    return expected(model, [{**typed_case(name), **_over(model, typed)}])[0]


def _over(model: Model, typed: dict[str, Any]) -> Typed:
    found = {}
    for key, value in typed.items():
        owner = "plan" if ("plan", f"typed_{key}") in model.layout.by_row else "eyes"
        place = ("", "plan") if owner == "plan" else ("right", "right")
        found[model.layout.cells(owner, f"typed_{key}")[place].place] = value
    return found


def _reasons(model: Model, cells: Cells, eye: str) -> list[str]:
    places = [slot.place for (of, _), slot in model.layout.cells("points", "point_sentence").items() if of == eye]
    return [cells[place] for place in places if cells[place]]


def test_what_stops_comes_before_what_is_open(model: Model) -> None:
    """Nobody has checked, and a reading is missing: the reading is asked for first."""
    ready = _cells(model, "ready", checked_by=None)
    assert "second person" in by_key(model, ready, "type_next")
    stopped = _cells(model, "ready", checked_by=None, axial_length=None)
    assert "axial length is missing" in by_key(model, stopped, "type_next")


def test_a_refused_cell_of_an_own_lens_comes_first(model: Model) -> None:
    """It stops both eyes, and is named with its column."""
    cells = _cells(model, "texts-for-numbers", plan_date=None)
    assert by_key(model, cells, "status", "right") == "not ready"
    assert by_key(model, cells, "type_next").startswith("OWN LENS 1, A constant: text, no number")


def test_what_is_refused_is_not_called_missing_too(model: Model) -> None:
    """One sentence for one cell, which says how to type a number."""
    reasons = _reasons(model, _cells(model, "texts-for-numbers"), "right")
    of_length = [reason for reason in reasons if "xial length" in reason]
    assert len(of_length) == 1
    assert "decimal sign?" in of_length[0]
    assert not [reason for reason in _reasons(model, _cells(model, "ready"), "right") if "decimal sign?" in reason]


def test_waiting_warnings_send_to_their_cells(model: Model) -> None:
    """When only warnings are left, their number and the cell of the name stand in what to type next."""
    cells = _cells(model, "ink-far-from-its-place")
    assert by_key(model, cells, "status", "left") == "check"
    said = by_key(model, cells, "eye_next", "left")
    live = by_key(model, cells, "warnings_live", "left")
    assert said.startswith(f"LEFT EYE – Warnings: {live:.0f}. The surgeon reads them")
    where = model.layout.cells("eyes", "typed_warnings_confirmed_by")["left", "left"].place
    assert said.endswith(where.address)


FAR = CONSTANTS.mark_far_off


@pytest.mark.parametrize(
    ("found", "far"),
    [(FAR, False), (FAR + 1, True), (180 - FAR, False), (179 - FAR, True), (180 + FAR, False), (359 - FAR, True)],
)
def test_ink_far_from_its_place(model: Model, found: float, far: bool) -> None:
    """Farther than the limit from where a mark was meant, at either end of its line, it is to be marked again."""
    cells = _cells(model, "ready", mark_meant=0, mark_found=found)
    said = model.spec.words.get("word", "mark_far")
    assert (said in by_key(model, cells, "dial_said", "right")) is far


def test_a_lens_says_where_it_comes_from(model: Model) -> None:
    """An example says that it is invented, an own lens shows the constant that was typed."""
    cells = _cells(model, "ink-far-from-its-place")
    assert "118.83" in by_key(model, cells, "lens_origin", "right")
    assert "invented" in by_key(model, cells, "lens_origin", "left")
    assert "The back's steep meridian" in by_key(model, cells, "compare_said", "left")
    assert "The back's steep meridian" not in by_key(model, cells, "compare_said", "right")


@pytest.mark.parametrize(
    ("diagnosis", "applies"), [("keratoconus", True), ("pellucid", True), ("regular", False), ("radial cuts", False)]
)
def test_the_published_goal_is_of_keratoconus(model: Model, diagnosis: str, applies: bool) -> None:
    """watson2014 is of keratoconus: in another cornea no goal is shown; the words are of that cornea."""
    cells = _cells(model, "ready", corneal_diagnosis=diagnosis)
    assert (by_key(model, cells, "goal_published", "right") == CONSTANTS.published_goal_low) is applies
    assert by_key(model, cells, "goal_experience", "right").startswith("target about") is applies
    assert "in keratoconus" in model.spec.words.label("goal_published")
