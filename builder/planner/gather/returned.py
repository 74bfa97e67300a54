"""What was typed into a planning workbook that came back: only of a file whose formulas and fixed values are ours."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from builder.engine.audit.book import book_settings
from builder.engine.audit.computing import compare_computing
from builder.engine.audit.expected import Plan, Which, planned_cells
from builder.engine.audit.quick import values_of_unchanged
from builder.engine.audit.sheet import SheetView
from builder.engine.audit.sheets import open_sheets, part_tree
from builder.engine.audit.stored import BrokenSheet
from builder.engine.audit.structure import other_days
from builder.engine.exchange.cellvalues import Cells
from builder.engine.exchange.language import language_of, typed_in_english
from builder.engine.exchange.untrusted import BOOK, Package, Refused, open_untrusted
from builder.engine.layout import Place
from builder.engine.model import load_model
from builder.planner.books import PLAN
from builder.planner.exchange.casefile import input_slots

NAMED = 1  # changes that a refusal tells; of the others it tells the number, and `verify` names them


def typed_in(path: Path) -> dict[Place, Any]:
    """The typed cells of a returned file, by their place and in the words of the English one. Raises Refused.

    Refused are files that are not ours, of another edition, or with a formula or fixed value changed, an input's
    cell with a formula among them: its stored result would only be a claim.
    """
    package = open_untrusted(path)
    language = language_of({title for title, _ in package.sheets})
    try:
        cells = values_of_unchanged(package, Which(PLAN, language))
        if any(other_days(book_settings(part_tree(package, BOOK)))):
            cells = None
        if cells is None:
            cells = _slowly(package, planned_cells(Which(PLAN, language)))
    except BrokenSheet as error:
        raise Refused("odd_content", package.name, error) from None
    typed = {place: cells.get(at) for at, place in entries(language).items()}
    return typed_in_english(load_model(language=language), typed)


@cache
def entries(language: str) -> Mapping[tuple[str, str], Place]:
    """The typed cells of this edition by sheet title and address."""
    model = load_model(language=language)
    places = [slot.place for slot in input_slots(model).values()]
    return {model.at(place): place for place in places}


def _slowly(package: Package, plan: Plan) -> Cells:
    """The values of a file that says where it was changed. Raises Refused, BrokenSheet."""
    sheets = open_sheets(package)
    _refuse_another_edition(package.name, sheets)
    found = [finding.sentence for finding in compare_computing(plan, sheets)]
    found += [finding.sentence for finding in other_days(book_settings(part_tree(package, BOOK)))]
    if found:
        more = f" + {len(found) - NAMED}" if len(found) > NAMED else ""
        raise Refused("changed", package.name, "; ".join(found[:NAMED]) + more)
    return {(title, at): cell.value for title, sheet in sheets.items() for at, cell in sheet.cells.items()}


def _refuse_another_edition(name: str, sheets: Mapping[str, SheetView]) -> None:
    model = load_model(language=language_of(sheets))
    title, address = model.edition_cell()
    cell = sheets[title].cells.get(address) if title in sheets else None
    edition = None if cell is None or cell.formula is not None else cell.value
    if not isinstance(edition, str):
        raise Refused("not_ours", name)
    if edition != model.edition:
        raise Refused("other_edition", name, edition[:40], model.edition)
