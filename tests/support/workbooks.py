"""What the reference expects in every formula cell of a filled workbook, and how an engine's cells differ from it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from builder.engine.exchange.cellvalues import Cells
from builder.engine.layout import Place
from builder.engine.model import Model, load_model
from builder.engine.same import same, says_the_same
from builder.engine.spec.model import Row
from builder.engine.spec.reading import SPECS
from builder.engine.values import cell_values
from builder.planner.exchange.casefile import read_case
from builder.planner.values import evaluate_cases

CASES = Path(__file__).resolve().parents[1] / "cases"
ERRORS = ("#N/A", "#VALUE!", "#REF!", "#DIV/0!", "#NUM!", "#NAME?", "#NULL!", "Err:")

Typed = Mapping[Place, Any]


@cache
def case_files() -> dict[str, Path]:
    """Case files by name: those of the tests and the demonstration patients."""
    files = sorted(CASES.glob("*.toml")) + sorted((SPECS / "cases").glob("*.toml"))
    return {path.stem: path for path in files}


@cache
def typed_case(name: str) -> Typed:
    """The typed cells of a case file, or nothing typed for "blank"."""
    return {} if name == "blank" else read_case(load_model(), case_files()[name])


def at(model: Model, place: Place) -> tuple[str, str]:
    """A cell as the engines name it: sheet title and address."""
    known = model.formula_cells.get(place)
    return known or (model.spec.sheet_title(place.sheet), _address(place))


@cache
def _address(place: Place) -> str:
    """Asked for some ten thousand cells of each of a thousand workbooks."""
    return place.address


def expected(model: Model, cases: Sequence[Typed]) -> list[dict[Place, Any]]:
    """The reference's value of every formula cell, for each case."""
    values = evaluate_cases(model, cases)
    return [cell_values(model, values, number) for number in range(len(cases))]


def by_key(model: Model, cells: Mapping[Place, Any], key: str, eye: str = "") -> Any:
    """The value of a row of the plan ("") or of an eye."""
    slots = model.layout.cells("eyes" if eye else "plan", key)
    return cells[slots[(eye, eye) if eye else ("", "plan")].place]


def differences(model: Model, wanted: Mapping[Place, Any], found: Cells, cliffs: Collection[str] = ()) -> list[str]:
    """Each formula cell that is not as expected, in words; rows named in `cliffs` are passed over."""
    wrong, comma = [], comma_elsewhere(model)
    for place, cell in model.formula_cells.items():
        compiled, value, seen = model.compiled[place], wanted[place], found.get(cell)
        row = compiled.slot.row
        if not plainly_same(row, value, seen) and row.key not in cliffs and not agrees(row, value, seen, comma):
            wrong.append(f"{'!'.join(cell)} {compiled.slot.side} {row.key}: {seen!r}, expected {value!r}")
    return wrong


def plainly_same(row: Row, wanted: Any, seen: Any) -> bool:
    """Whether `agrees` need not be asked, as of nearly all cells: equal, of one type, and no axis."""
    return wanted == seen and wanted.__class__ is seen.__class__ and not row.is_axis


def comma_elsewhere(model: Model) -> bool:
    """Whether the language's sentences have another decimal sign than the engines, which are set to English."""
    return model.spec.words.decimal_sign != "."


def agrees(row: Row, wanted: Any, seen: Any, comma: bool = False) -> bool:
    """Whether a cell is as expected; one that folds an axis must also show it as 1 to 180, not as its other end.
    `comma`: a text may have another decimal sign."""
    if comma and says_the_same(wanted, seen):
        return True
    if not same(wanted, seen, row.is_axis):
        return False
    return not (isinstance(seen, float) and not 0 < seen <= 180 and "180-MOD(" in (row.formula or ""))


def errors(found: Cells, but: Collection[tuple[str, str]] = ()) -> list[str]:
    """Every cell that shows an error value."""
    return [
        f"{'!'.join(place)}: {value}"
        for place, value in found.items()
        if isinstance(value, str) and value.startswith(ERRORS) and place not in but
    ]
