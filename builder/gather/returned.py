"""What was typed into a planning workbook that came back: only of a file whose formulas and fixed values are ours."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from builder.audit.book import open_sheets
from builder.audit.computing import compare_computing
from builder.audit.expected import EDITION_ROW, planned_cells
from builder.audit.quick import held_values, surely_unchanged
from builder.audit.sheet import BrokenSheet, SheetView
from builder.exchange.casefile import input_slots
from builder.exchange.cellvalues import Cells
from builder.exchange.untrusted import Package, Refused, open_untrusted
from builder.layout import Place
from builder.model import load_model

NAMED = 3  # changes that a refusal tells; of the others it tells the number


def typed_in(path: Path) -> dict[Place, Any]:
    """The typed cells of a returned file, by their place. Raises Refused.

    Refused are files that are not ours, of another edition, or with a formula or fixed value changed, an input's
    cell with a formula among them: its stored result would only be a claim.
    """
    package = open_untrusted(path)
    cells = held_values(package, _entries_of()) if surely_unchanged(package, planned_cells()) else None
    if cells is None:
        cells = _slowly(package)
    return {place: cells.get(at) for at, place in entries().items()}


@cache
def entries() -> Mapping[tuple[str, str], Place]:
    """The typed cells of this edition by sheet title and address."""
    model = load_model()
    words = model.spec.words
    places = [slot.place for slot in input_slots(model).values()]
    return {(words.get("sheet", place.sheet), place.address): place for place in places}


@cache
def _entries_of() -> Mapping[str, frozenset[str]]:
    """The addresses that are typed into, by sheet title."""
    return {title: frozenset(at for sheet, at in entries() if sheet == title) for title in {t for t, _ in entries()}}


def _slowly(package: Package) -> Cells:
    """The values of a file that is written in another way, or that was changed and says where."""
    try:
        sheets = open_sheets(package)
    except BrokenSheet as error:
        raise Refused("odd_content", package.name, error) from None
    _refuse_another_edition(package.name, sheets)
    found = [finding.sentence for finding in compare_computing(planned_cells(), sheets)]
    if found:
        more = f" + {len(found) - NAMED}" if len(found) > NAMED else ""
        raise Refused("changed", package.name, "; ".join(found[:NAMED]) + more)
    return {(title, at): cell.value for title, sheet in sheets.items() for at, cell in sheet.cells.items()}


def _refuse_another_edition(name: str, sheets: Mapping[str, SheetView]) -> None:
    for title, cells in planned_cells().items():
        for address, planned in cells.items():
            if planned.key.endswith(EDITION_ROW):
                cell = sheets[title].cells.get(address) if title in sheets else None
                edition = None if cell is None or cell.formula is not None else cell.value
                if not isinstance(edition, str):
                    raise Refused("not_ours", name)
                if edition != planned.content:
                    raise Refused("other_edition", name, edition[:40], planned.content)
