"""Rows that only display have no twin in the reference: written expectations hold them (`tests/support/displays.py`).

What they should show is worked by hand from geometry, or from what a sentence means, and never copied from them.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from builder.engine.layout import Slot
from builder.engine.model import Model, load_model
from builder.engine.spec import SpecError
from builder.engine.values import cell_values
from builder.planner.books import PLAN, REGISTER
from builder.planner.values import evaluate_cases
from tests.support.displays import blank, displayed, written
from tests.support.overtyped import seen_in_gnumeric
from tests.support.planting import FILE, copied_specs, plant, told
from tests.support.workbooks import agrees, typed_case

BOOKS = (PLAN, REGISTER)


def name(slot: Slot) -> str:
    return f"{slot.block.instances.name}.{slot.row.key}.{slot.instance}"


@pytest.mark.parametrize("workbook", BOOKS)
def test_every_display_shows_what_is_written(workbook: str) -> None:
    """By the evaluator, in every state."""
    model, wrong = load_model(workbook), []
    for shows in written(workbook):
        found = displayed(workbook).values({**blank(workbook), **shows.given})
        for place, wanted in shows.wanted.items():
            slot = model.compiled[place].slot
            seen = None if found[place] == "" else found[place]
            if not agrees(slot.row, wanted, seen):
                wrong.append(f"{shows.name}: {name(slot)} is {seen!r}, should be {wanted!r}")
    assert not wrong, "\n".join(wrong)


def test_gnumeric_shows_what_is_written(model: Model, tmp_path: Path, gnumeric: str) -> None:
    """By a program of its own, in the planning workbook."""
    del gnumeric
    states, wrong = written(PLAN), []
    for shows, found in zip(states, seen_in_gnumeric(model, states, tmp_path), strict=True):
        for place, wanted in shows.wanted.items():
            slot = model.compiled[place].slot
            if not agrees(slot.row, wanted, found[place]):
                wrong.append(f"{shows.name}: {name(slot)} is {found[place]!r}, should be {wanted!r}")
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("workbook", BOOKS)
def test_what_is_given_is_read(workbook: str) -> None:
    """A cell that no display reads would be given in vain, and one that only displays is never given."""
    model = load_model(workbook)
    slots = {slot.place: slot for slot in model.layout.slots}
    vain = {
        f"{shows.name}: {name(slots[place])}"
        for shows in written(workbook)
        for place in shows.given
        if place not in displayed(workbook).read
    }
    assert not vain, "\n".join(sorted(vain))


def _formula(slot: Slot) -> tuple[str, ...]:
    """Of which row of which list, on which side, and which of its formulas."""
    own = slot.instance if slot.instance in slot.row.formulas else ""
    return slot.block.instances.name, slot.row.key, slot.side, own


@pytest.mark.parametrize("workbook", BOOKS)
def test_every_formula_that_only_displays_is_expected(workbook: str) -> None:
    """Each formula of each row, on either side where each has it, with two results or more where it reads others."""
    compiled = load_model(workbook).compiled
    shown = [compiled[place] for place in displayed(workbook).digits]
    wanted: dict[tuple[str, ...], set[object]] = {
        _formula(cell.slot): set() for cell in shown if cell.slot.instance not in cell.slot.row.cells
    }
    for shows in written(workbook):
        for place, value in shows.wanted.items():
            wanted[_formula(compiled[place].slot)].add(value)
    turning = {_formula(cell.slot) for cell in shown for r in cell.reads if r.row.role(r.instance) == "formula"}
    lacks = [" ".join(key) for key, seen in wanted.items() if len(seen) < (2 if key in turning else 1)]
    assert not lacks, f"{len(lacks)} lack an expectation in tests/displays/{workbook}:\n" + "\n".join(lacks)


def test_a_row_with_a_twin_reads_no_row_that_only_displays(tmp_path: Path) -> None:
    """Whatever is more than a picture or a sentence hangs on values that the reference has."""
    specs = copied_specs(tmp_path)
    plant(
        specs,
        """  { key = "planted_row", display = true, formula = "mean_k*2" },
  { key = "planted_other", formula = "planted_row+1" },""",
    )
    error = told(specs)
    assert (error.file, error.key) == (FILE, "planted_other")
    assert f"reads 'planted_row' ({FILE}), which only displays" in str(error)


def test_a_row_that_programs_read_does_not_only_display(tmp_path: Path) -> None:
    specs = copied_specs(tmp_path)
    plant(specs, '  { key = "planted_row", display = true, publish = "planted", formula = "mean_k*2" },')
    error = told(specs)
    assert (error.file, error.key) == (FILE, "planted_row")
    assert "only displays, and is read by programs as 'planted'" in str(error)


def test_a_row_that_only_displays_needs_no_twin_and_has_none(tmp_path: Path) -> None:
    """Its value comes from its formula, upon the reference's values; a twin that was left is named."""
    specs = copied_specs(tmp_path)
    plant(specs, '  { key = "planted_row", display = true, formula = "mean_k*2" },')
    model = load_model(specs=specs)
    values = evaluate_cases(model, [typed_case("ready")])
    cells = cell_values(model, values)
    of_right = {key: model.layout.cells("eyes", key)["right", "right"].place for key in ("planted_row", "mean_k")}
    assert cells[of_right["planted_row"]] == pytest.approx(2 * cells[of_right["mean_k"]])
    values.put("eyes", planted_row=2 * values.get("eyes", "mean_k"))
    with pytest.raises(SpecError, match="'planted_row': is computed though it only displays"):
        cell_values(model, values)
