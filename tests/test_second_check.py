"""Whose name stands on the theatre page, what is shown of a withheld lens, and where a refused fellow entry is told."""

from typing import Any

import pytest
from openpyxl import load_workbook

from builder.engine.layout import Place
from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from tests.support.filled import fill
from tests.support.workbooks import by_key, expected, typed_case

Cells = dict[Place, Any]


def _changed(model: Model, name: str, change: dict[str, Any], gone: tuple[tuple[str, str], ...] = ()) -> Cells:
    """A case with other entries; `gone`: entries of the plan ("plan") or of an eye that are left out."""
    typed = {**typed_case(name), **typed_cells(model, change)}
    for key, eye in gone:
        cells = model.layout.cells("plan" if eye == "plan" else "eyes", f"typed_{key}")
        typed.pop(cells["", "plan"].place if eye == "plan" else cells[eye, eye].place)
    return expected(model, [typed])[0]


def _people(model: Model, cells: Cells) -> str:
    (slot,) = (s for s in model.layout.slots if s.row.key == "page_people" and s.side == "right")
    return str(cells[slot.place])


def _word(model: Model, key: str) -> str:
    return model.spec.words.get("word", key)


# What is changed in the case "ready", what is left out, and which words then stand in place of the second name.
UNFINISHED: dict[str, tuple[dict[str, Any], tuple[tuple[str, str], ...], str]] = {
    "no second person": ({}, (("checked_by", "plan"),), "checked_nobody"),
    "same name": ({"plan": {"checked_by": "a. tester"}}, (), "checked_same"),
    "another length": ({"right": {"again_axial_length": 30.0}}, (), "checked_differs"),
    "another code": ({"right": {"checked_code": 1}}, (), "checked_differs"),
    "a missing lens": ({}, (("again_lens", "right"),), "check_lacking"),
    "a missing file number": ({}, (("again_file_number", "plan"),), "check_lacking"),
    "a refused length": ({"right": {"again_axial_length": 99.0}}, (), "check_lacking"),
}


def test_a_finished_check_shows_the_name(model: Model) -> None:
    cells = expected(model, [typed_case("ready")])[0]
    assert by_key(model, cells, "status", "right") == _word(model, "status_ready")
    assert _people(model, cells).endswith(_word(model, "checked_short") + str(by_key(model, cells, "checked_by")))
    assert by_key(model, cells, "check_state", "right") == _word(model, "check_passed")


@pytest.mark.parametrize("kind", UNFINISHED)
def test_an_unfinished_check_shows_no_name(model: Model, kind: str) -> None:
    change, gone, words = UNFINISHED[kind]
    cells = _changed(model, "ready", change, gone)
    said = _people(model, cells)
    assert _word(model, words) in said
    assert _word(model, "checked_short") not in said
    assert by_key(model, cells, "check_state", "right") != _word(model, "check_passed")


def test_a_missing_second_entry_is_said_where_the_lens_is_shown(model: Model) -> None:
    """On the theatre page in its banner, on Decision beside the state; the first one missing is named."""
    cells = _changed(model, "ready", {}, (("again_lens", "right"), ("again_goal", "right")))
    assert by_key(model, cells, "status", "right") == _word(model, "status_check")
    assert by_key(model, cells, "released_power", "right") is not None
    (banner,) = (s for s in model.layout.slots if s.row.key == "page_banner" and s.side == "right")
    assert cells[banner.place] == _word(model, "banner_unchecked")
    assert _word(model, "state_unchecked") in by_key(model, cells, "state_said", "right")
    assert f": 2{_word(model, 'check_first_is')}{model.spec.words.label('again_goal')}" in _people(model, cells)


def test_decision_withholds_what_the_theatre_page_withholds(model: Model) -> None:
    """Of an eye that is not ready neither lens, cylinder nor axis stands in a frame, and the frames say so."""
    cells = _changed(model, "ready", {"right": {"again_axial_length": 30.0}})
    assert by_key(model, cells, "lens_power", "right") is not None

    def at(owner: str, key: str, instance: str) -> Any:
        return cells[model.layout.cells(owner, key)["right", instance].place]

    shown = [at("five", "five_power", "chosen"), at("near", "near_shown", "the_chosen")]
    shown += [at("k_views", "view_lens", view) for view in ("with_used", "with_lowest", "with_highest")]
    shown.append(at("axis_lines", "axis_of_lens", "lens_marks"))
    assert shown == [None] * len(shown)
    assert at("five", "five_mark", "chosen") == at("near", "near_name", "the_chosen") == _word(model, "mark_withheld")
    assert at("k_views", "view_name", "with_used") == _word(model, "view_withheld")


@pytest.mark.parametrize("key", ["axial_length", "goal", "refraction_cylinder"])
def test_a_refused_entry_of_the_other_eye_is_told_with_its_cell(model: Model, key: str) -> None:
    typed = f"typed_{'goal_refraction' if key == 'goal' else key}"
    cells = _changed(model, "1-cone-both-eyes", {"left": {key: 999.0}})
    point = model.layout.cells("points", "point_sentence")["right", "fellow_refused"]
    place = model.layout.cells("eyes", typed)["left", "left"].place
    assert cells[point.place].endswith(f"{model.spec.sheet_title(place.sheet)} {place.address}")


def test_unanswered_questions_are_counted(model: Model) -> None:
    """Scar, tear film, further surgery: an empty answer counts as a no, and is told beside the verdict and on Start."""
    questions = {"central_scar": "no", "tear_film_treated": "yes", "more_surgery_expected": "no"}
    full, empty = (
        _changed(model, "1-cone-both-eyes", {"right": {key: answer for key, answer in questions.items()}}, gone)
        for gone in ((), tuple((key, "right") for key in questions))
    )
    before, after = (by_key(model, cells, "fit_unanswered", "right") for cells in (full, empty))
    assert after == before + 3
    assert by_key(model, empty, "toric_named", "right") == f"{_word(model, 'toric_unanswered')}{after:.0f}"
    counts = [int(str(by_key(model, cells, "step_useful", "right")).split()[0]) for cells in (full, empty)]
    assert counts[0] == counts[1] + 3


def test_openings_are_read_on_the_marker_as_the_axis_is(model: Model) -> None:
    """Ink 3 degrees counter-clockwise of where it was meant: each opening is read 3 degrees less, round the circle."""
    change = {"right": {"mark_meant": 180.0, "mark_found": 183.0, "side_port_1": 2.0, "side_port_2": 265.0}}
    cells = _changed(model, "1-cone-both-eyes", change | {"right": change["right"] | {"incision_meridian": 190.0}})
    (slot,) = (s for s in model.layout.slots if s.row.key == "page_openings" and s.side == "right")
    words = [_word(model, key) for key in ("on_marker", "main_at", "ports_at", "comma")]
    assert cells[slot.place] == f"{words[0]}{words[1]}187{words[2]}359{words[3]}262"


def test_the_capsulorhexis_is_judged_by_typed_sizes_alone(model: Model) -> None:
    (slot,) = (s for s in model.layout.slots if s.row.key == "page_overlap" and s.side == "right")
    sizes = {"opening_diameter": 5.0, "optic_diameter": 6.0}
    both = _changed(model, "ready", {"right": sizes})
    one = _changed(model, "ready", {"right": {"opening_diameter": 5.0}})
    none = expected(model, [typed_case("ready")])[0]
    assert none[slot.place] is None
    assert both[slot.place] == _word(model, "optic_opening") + _word(model, "overlap_good")
    assert one[slot.place] == both[slot.place] + _word(model, "overlap_half")


def test_each_reason_on_start_leads_to_the_open_items(model: Model, tmp_path: Any) -> None:
    """A link to a fixed place: the sheet where each item has a link to its own cell."""
    path = tmp_path / "linked.xlsx"
    fill(model, typed_case("1-cone-both-eyes"), path)
    book = load_workbook(path)
    sheet, wanted = book[model.spec.sheet_title("start")], f"'{model.spec.sheet_title('points')}'!A1"
    for slot in model.layout.cells("reason_lines", "reason_line").values():
        assert sheet[slot.place.address].hyperlink.location == wanted


def test_the_tunnel_entry_is_told_only_where_there_is_one(model: Model) -> None:
    """Between the middles less half of the incision, which test_incisions works by hand; none without a tunnel."""
    (slot,) = (s for s in model.layout.slots if s.row.key == "page_tunnel" and s.side == "right")
    with_tunnel = _changed(model, "ready", {"right": {"tunnel_entry": 220.0, "incision_meridian": 180.0}})
    assert expected(model, [typed_case("ready")])[0][slot.place] is None
    gap = by_key(model, with_tunnel, "incision_to_tunnel_degrees", "right")
    assert 0 < gap < 40 and with_tunnel[slot.place] == f"{_word(model, 'tunnel_clear')}{gap:.0f}"
    crossed = _changed(model, "ready", {"right": {"tunnel_entry": 181.0, "incision_meridian": 180.0}})
    assert crossed[slot.place] == _word(model, "tunnel_crossed")
