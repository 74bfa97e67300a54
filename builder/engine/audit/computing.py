"""Which formulas and constants of a file were changed: those that a workbook is computed with."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from builder.engine.audit.expected import Planned, PlannedCells
from builder.engine.audit.finding import Finding, finding
from builder.engine.audit.formulas import same_formula, same_value
from builder.engine.audit.sheet import SheetView


def compare_computing(planned: PlannedCells, sheets: Mapping[str, SheetView]) -> Iterator[Finding]:
    """Formula by formula and constant by constant, in the order of the edition; then formulas that should not be."""
    for title, cells in planned.items():
        sheet = sheets.get(title)
        if sheet is None:
            yield finding("sheet_missing", title)
            continue
        yield from computing_of_sheet(cells, sheet)
    for title, sheet in sheets.items():
        for address, cell in sheet.cells.items():
            if cell.formula is not None and address not in planned.get(title, {}):
                yield finding("extra", title, address, "", None, "=" + cell.formula)
        for address in sheet.twice:
            yield finding("twice", title, address)


def computing_of_sheet(cells: Mapping[str, Planned], sheet: SheetView) -> list[Finding]:
    """What differs in the planned cells of one sheet."""
    return list(_computing(cells, sheet))


def _computing(cells: Mapping[str, Planned], sheet: SheetView) -> Iterator[Finding]:
    title = sheet.title
    for address, due in cells.items():
        cell = sheet.cells.get(address)
        if due.kind == "formula":
            if cell is None or cell.formula is None:
                found = None if cell is None else cell.value
                yield finding("formula", title, address, due.key, "=" + due.content, found, "formula_lost")
            elif cell.form:
                yield finding("formula", title, address, due.key, "", cell.form, "formula_form")
            elif cell.formula != due.content and not same_formula(due.content, cell.formula):
                yield finding("formula", title, address, due.key, "=" + due.content, "=" + cell.formula)
        elif cell is not None and cell.formula is not None:
            kind = "input_formula" if due.kind == "typed" else "constant"
            yield finding(kind, title, address, due.key, due.content, "=" + cell.formula)
        elif due.kind == "constant" and not same_value(due.content, None if cell is None else cell.value):
            yield finding("constant", title, address, due.key, due.content, None if cell is None else cell.value)
