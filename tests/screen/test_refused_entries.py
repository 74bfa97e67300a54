"""Typed in a real window: what is refused still stands in its cell, the state says why, and nothing is released."""

from __future__ import annotations

from typing import NamedTuple

import pytest

from builder.engine.exchange.cellvalues import Cells, read_values
from builder.engine.exchange.window import window
from builder.engine.layout import Slot
from builder.engine.model import Model
from tests.support.filled import fill
from tests.support.workbooks import at, typed_case


class Entry(NamedTuple):
    """A slip of the hand: where it is typed, the text, what must stand there afterwards."""

    key: str
    eye: str
    text: str
    kept: float | str


ENTRIES = (
    Entry("peak_k", "right", "55,1", "55,1"),  # a decimal comma, into an empty cell
    Entry("ring_flat", "left", "465", 465.0),  # the decimal sign forgotten, over a value
    Entry("axial_length", "left", "long", "long"),  # a word, over a value
    Entry("axial_length", "right", "9", 9.0),  # out of limits, over a value
    Entry("corneal_diagnosis", "right", "zzz", "zzz"),  # no word of the list, over one
    Entry("plan_date", "", "20/11/2026", "20/11/2026"),  # no date in the office of this test
)


def _slot(model: Model, entry: Entry) -> Slot:
    cells = model.layout.cells("eyes" if entry.eye else "plan", f"typed_{entry.key}")
    return cells[(entry.eye, entry.eye) if entry.eye else ("", "plan")]


def _of_eye(model: Model, cells: Cells, key: str, eye: str) -> object:
    return cells[at(model, model.layout.cells("eyes", key)[eye, eye].place)]


@pytest.fixture(scope="module")
def saved(model: Model, tmp_path_factory: pytest.TempPathFactory, screen: None) -> Cells:
    """The cells after all slips were typed into a plan that was ready, as the program saved them."""
    folder = tmp_path_factory.mktemp("window")
    path = folder / "plan.xlsx"
    fill(model, typed_case("ready"), path)
    assert [_of_eye(model, read_values(path), "released", eye) for eye in ("right", "left")] == [1, 1]
    with window(path, folder) as opened:
        for entry in ENTRIES:
            sheet, address = at(model, _slot(model, entry).place)
            opened.enter(f"${sheet}.{address}", entry.text, model.spec.words.get("word", "error_title"))
        opened.save()
    return read_values(path)


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: f"{entry.eye} {entry.key} {entry.text}".strip())
def test_what_was_typed_still_stands_there(model: Model, saved: Cells, entry: Entry) -> None:
    """An alert of the kind that stops would have left the cell empty, or the old value in force."""
    assert saved[at(model, _slot(model, entry).place)] == entry.kept


@pytest.mark.parametrize("eye", ["right", "left"])
def test_nothing_is_released_and_the_state_says_so(model: Model, saved: Cells, eye: str) -> None:
    """Both eyes were ready before."""
    assert _of_eye(model, saved, "released", eye) == 0
    assert _of_eye(model, saved, "status", eye) == "not ready"


def test_the_line_at_the_top_names_a_refused_cell(model: Model, saved: Cells) -> None:
    """It leads to the first of them."""
    line = saved[at(model, model.layout.cells("plan", "type_next")["", "plan"].place)]
    sheet, address = at(model, _slot(model, ENTRIES[-1]).place)
    assert f"{sheet} {address}" in str(line)
