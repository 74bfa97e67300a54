"""Typing one input, as a person does, updates everything that depends on it."""

from pathlib import Path
from typing import Any

import pytest

from builder.engine.layout import Place
from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from tests.support.filled import fill
from tests.support.typing_macro import type_into
from tests.support.workbooks import at, differences, expected, typed_case

# One change each to a workbook that is complete; None clears the cell.
CHANGES: dict[str, tuple[str, dict[str, dict[str, Any]]]] = {
    "a longer eye": ("ready", {"right": {"axial_length": 25.71}}),
    "a refused length": ("ready", {"right": {"axial_length": 2.35}}),
    "a word for a number": ("ready", {"left": {"ring_steep": "forty-four"}}),
    "another unit": ("ready-after-confirmation", {"right": {"keratometry_unit": "mm"}}),
    "another lens": ("own-lenses", {"left": {"lens": "Tern unsorted"}}),
    "a cylinder of an own lens": ("own-lenses", {}),
    "plus cylinder": ("ready", {"plan": {"cylinder_notation": "plus"}}),
    "another person": ("ready", {"plan": {"checked_by": "A. Tester"}}),
    "the first input of a blank file": ("blank", {"left": {"axial_length": 23.5}}),
}


def _changed(model: Model, name: str) -> dict[Place, Any]:
    if name == "a cylinder of an own lens":
        slot = model.layout.cells("own_lenses", "typed_own_cylinder3")["", "own1"]
        return {slot.place: 4.1}
    return dict(typed_cells(model, CHANGES[name][1]))


@pytest.fixture(scope="module")
def files(model: Model, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The workbooks before the change."""
    folder = tmp_path_factory.mktemp("typing")
    files = {base: folder / f"{base}.xlsx" for base in {base for base, _ in CHANGES.values()}}
    for base, path in files.items():
        fill(model, typed_case(base), path)
    return files


def test_typing_one_input_updates_every_cell(model: Model, files: dict[str, Path], libreoffice: str) -> None:
    """After one input is typed in LibreOffice, all formula cells are those of the changed case."""
    changes = {name: _changed(model, name) for name in CHANGES}
    jobs = [
        (files[CHANGES[name][0]], {at(model, place): value for place, value in cells.items()})
        for name, cells in changes.items()
    ]
    before = expected(model, [typed_case(base) for base, _ in CHANGES.values()])
    after = expected(model, [{**typed_case(CHANGES[name][0]), **cells} for name, cells in changes.items()])
    wrong = []
    for name, old, wanted, found in zip(changes, before, after, type_into(jobs), strict=True):
        assert old != wanted, f"{name} changes nothing"
        wrong += [f"{name} | {line}" for line in differences(model, wanted, found)[:30]]
    assert not wrong, "\n".join(wrong)
