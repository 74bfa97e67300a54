"""The sheet on which a surgeon decides: it fits the screen, shows what others compute, marks what is in force."""

from __future__ import annotations

import pytest

from builder.engine.model import load_model
from builder.engine.spec.words import ENGLISH
from builder.engine.write.page import PIXELS_A_LETTER, PIXELS_ASIDE, SCREEN
from builder.planner.books import PLAN
from builder.planner.exchange.casefile import read_case
from builder.planner.reference.eyes import EYES
from tests.support.workbooks import Typed, case_files, expected

SHEET, LINES = "decision", 22  # of an eye, that a screen of 768 lines shows below the head
STEEP = "fit-steep-and-apart"


def _shown(typed: Typed, key: str, instance: str = "", eye: str = "right") -> object:
    model = load_model(PLAN, ENGLISH)
    (found,) = expected(model, [typed])
    owner = next(name for name in model.layout.lists_of[key] if name == "eyes" or instance)
    return found.get(model.layout.cells(owner, key)[eye, instance or eye].place)


def _case(name: str) -> Typed:
    return read_case(load_model(PLAN, ENGLISH), case_files()[name])


def test_an_eye_fits_a_screen() -> None:
    """Lines of each eye, and the width of the sheet in pixels."""
    model = load_model(PLAN, ENGLISH)
    sheet = next(sheet for sheet in model.spec.sheets if sheet.key == SHEET)
    assert sum(PIXELS_A_LETTER * width + PIXELS_ASIDE for width in sheet.columns) <= SCREEN
    for eye in EYES:
        lines = [s.place.line for s in model.layout.slots if s.place.sheet == SHEET and s.side == eye]
        assert max(lines) - (min(lines) - 2) + 1 <= LINES  # the title and the heads stand above


def test_nothing_is_computed_there() -> None:
    """Each cell is a fixed text or shows one other cell."""
    model = load_model(PLAN, ENGLISH)
    cells = [slot for slot in model.layout.slots if slot.place.sheet == SHEET and not slot.block.pinned]
    computed = [
        slot.row.key
        for slot in cells
        if slot.row.role(slot.instance) == "formula"
        and slot.instance not in slot.row.cells  # left empty
        and len(model.compiled[slot.place].reads) != 1
    ]
    assert cells and not computed and all(s.row.follows or s.row.cells for s in cells)


def test_no_two_cells_stand_on_one_place() -> None:
    places = [slot.place for slot in load_model(PLAN, ENGLISH).layout.slots]
    assert len(places) == len(set(places))


def test_the_lead_and_the_lens_are_marked_in_words() -> None:
    """One formula leads, and it is the one whose power for the goal is the exact power of the lead."""
    typed = _case("1-cone-both-eyes")
    marks = {key: _shown(typed, "lead_shown", key) for key in ("srkt", "holladay1", "hofferq", "haigis", "t2")}
    (leading,) = [key for key, mark in marks.items() if mark]
    assert _shown(typed, "asked_power", leading) == _shown(typed, "exact_power")
    assert [key for key in ("less1", "chosen", "more1") if _shown(typed, "five_mark", key)] == ["chosen"]
    assert _shown(typed, "five_power", "chosen") == _shown(typed, "lens_power")


def test_the_cylinders_stand_in_their_order() -> None:
    """The chosen one turned by 10 degrees leaves what the table of turning says; none is left as it is by any turn."""
    typed = _case("1-cone-both-eyes")
    none, weaker, chosen, stronger = (
        _shown(typed, "near_shown", key) for key in ("no_cylinder", "one_weaker", "the_chosen", "one_stronger")
    )
    assert none == 0.0 and isinstance(weaker, float) and isinstance(chosen, float) and isinstance(stronger, float)
    assert weaker < chosen < stronger and chosen == _shown(typed, "lens_cylinder")
    assert _shown(typed, "near_turned_shown", "the_chosen") == pytest.approx(_shown(typed, "rotated_left", "off10"))
    assert _shown(typed, "near_turned_shown", "no_cylinder") == pytest.approx(
        _shown(typed, "near_left_shown", "no_cylinder")
    )


def test_reasons_against_come_first() -> None:
    """Where something speaks against a toric lens, the first reason says so."""
    typed, words = _case(STEEP), load_model(PLAN, ENGLISH).spec.words
    first = [str(told) for n in range(1, 5) if (told := _shown(typed, "why_shown", f"why{n}"))]
    weights = [words.get("word", f"fit_{name}") for name in ("against", "missing", "borderline")]
    found = [next(n for n, word in enumerate(weights) if f": {word}" in reason) for reason in first]
    assert found == sorted(found) and found[0] == 0 and len(found) > 1


def test_a_blank_workbook_marks_nothing() -> None:
    marks = [_shown({}, "five_mark", "chosen"), _shown({}, "lead_shown", "haigis"), _shown({}, "why_shown", "why1")]
    assert marks == [None, None, None]
