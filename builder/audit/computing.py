"""Which formulas and constants of a file were changed: those that a plan is computed with."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from builder.audit.book import open_sheets
from builder.audit.expected import Plan, planned_cells
from builder.audit.finding import Finding, finding
from builder.audit.formulas import same_formula, same_value
from builder.audit.quick import surely_unchanged
from builder.audit.sheet import BrokenSheet, SheetView
from builder.exchange.language import language_of
from builder.exchange.untrusted import Refused, open_untrusted


def changed_formulas(path: Path) -> list[Finding]:
    """The formulas and constants of a file that are not those of this edition, quickly; empty when none was changed.

    Also a formula where none belongs, an input's cell among them. Raises Refused. Whoever takes numbers from a file
    asks this first; `verify` looks at everything else too.
    """
    package = open_untrusted(path)
    planned = planned_cells(language=language_of({title for title, _ in package.sheets}))
    if surely_unchanged(package, planned):
        return []
    try:
        sheets = open_sheets(package)
    except BrokenSheet as error:
        raise Refused("odd_content", path.name, error) from None
    return list(compare_computing(planned, sheets))


def compare_computing(planned: Plan, sheets: Mapping[str, SheetView]) -> Iterator[Finding]:
    """Formula by formula and constant by constant, in the order of the edition; then formulas that should not be."""
    for title, cells in planned.items():
        sheet = sheets.get(title)
        if sheet is None:
            yield finding("sheet_missing", title)
            continue
        for address, plan in cells.items():
            cell = sheet.cells.get(address)
            if plan.kind == "formula":
                if cell is None or cell.formula is None:
                    found = None if cell is None else cell.value
                    yield finding("formula", title, address, plan.key, "=" + plan.content, found, "formula_lost")
                elif cell.form:
                    yield finding("formula", title, address, plan.key, "", cell.form, "formula_form")
                elif cell.formula != plan.content and not same_formula(plan.content, cell.formula):
                    yield finding("formula", title, address, plan.key, "=" + plan.content, "=" + cell.formula)
            elif cell is not None and cell.formula is not None:
                kind = "input_formula" if plan.kind == "typed" else "constant"
                yield finding(kind, title, address, plan.key, plan.content, "=" + cell.formula)
            elif plan.kind == "constant" and not same_value(plan.content, None if cell is None else cell.value):
                yield finding("constant", title, address, plan.key, plan.content, None if cell is None else cell.value)
    for title, sheet in sheets.items():
        for address, cell in sheet.cells.items():
            if cell.formula is not None and address not in planned.get(title, {}):
                yield finding("extra", title, address, "", None, "=" + cell.formula)
