"""What was typed into a planning workbook that came back: only of a file whose formulas and fixed values are ours."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from builder.engine.audit.book import book_settings
from builder.engine.audit.expected import Which
from builder.engine.audit.quick import changes_of, values_of_unchanged
from builder.engine.audit.sheets import open_sheet, part_tree, shared_texts, stored_values
from builder.engine.audit.stored import BrokenSheet
from builder.engine.audit.structure import other_days
from builder.engine.exchange.cellvalues import Cells
from builder.engine.exchange.language import language_of, typed_in_english
from builder.engine.exchange.untrusted import BOOK, Package, Refused, open_untrusted
from builder.engine.layout import Place
from builder.engine.model import Model, load_model
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
            cells = _slowly(package, Which(PLAN, language))
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


def _slowly(package: Package, which: Which) -> Cells:
    """The values of a file that says where it was changed. Raises Refused, BrokenSheet."""
    _refuse_another_edition(package, which.model())
    found = [finding.sentence for finding in changes_of(package, which)]
    found += [finding.sentence for finding in other_days(book_settings(part_tree(package, BOOK)))]
    if found:
        more = f" + {len(found) - NAMED}" if len(found) > NAMED else ""
        raise Refused("changed", package.name, "; ".join(found[:NAMED]) + more)
    return stored_values(package)


def _refuse_another_edition(package: Package, model: Model) -> None:
    title, address = model.edition_cell()
    part = dict(package.sheets).get(title)
    view = None if part is None else open_sheet(package, title, part, shared_texts(package))
    cell = None if view is None else view.cells.get(address)
    edition = None if cell is None or cell.formula is not None else cell.value
    if not isinstance(edition, str):
        raise Refused("not_ours", package.name)
    if edition != model.edition:
        raise Refused("other_edition", package.name, edition[:40], model.edition)
