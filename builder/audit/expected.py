"""What an edition has in every cell: what computes and is typed from its dump, all else from the workbook as built."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from builder.audit.book import BookView, open_book
from builder.compare.old import value_of
from builder.editions import Cell, Edition, edition_of_model, load_edition
from builder.exchange.fill import fill
from builder.model import load_model
from builder.spec.words import ENGLISH

EDITION_ROW = "edition_code"


class Planned(NamedTuple):
    """What belongs into a cell: "formula", "constant", "typed", "label" or "empty", its content and the row's name."""

    kind: str
    content: Any
    key: str


Plan = Mapping[str, Mapping[str, Planned]]


def planned_cells(edition: str = "", language: str = ENGLISH) -> Plan:
    """Every cell of an edition that computes or is typed into, by sheet title and address; "": of this edition.

    Raises UnknownEdition.
    """
    return _planned(edition or load_model(language=language).edition, language)


@lru_cache(maxsize=8)
def _planned(edition: str, language: str) -> Plan:
    model = load_model(language=language)
    known = edition_of_model(model) if edition == model.edition else load_edition(edition)
    cells: dict[str, dict[str, Planned]] = {}
    for (title, address), cell in known.cells.items():
        cells.setdefault(title, {})[address] = Planned(cell.role, _content(known, cell), cell.name)
    return cells


def _content(edition: Edition, cell: Cell) -> Any:
    if cell.role == "typed":
        return None
    if cell.role == "formula":
        return cell.holds.removeprefix("=")
    if cell.name.endswith(EDITION_ROW):
        return edition.edition
    value = value_of(edition, cell)
    return float(value) if isinstance(value, int | float) else value


@lru_cache(maxsize=2)
def built_book(language: str = ENGLISH) -> BookView:
    """The blank workbook of this edition, written and read back as any other file."""
    with tempfile.TemporaryDirectory(prefix="edition-") as folder:
        fill(load_model(language=language), {}, Path(folder) / "blank.xlsx")
        return open_book(Path(folder) / "blank.xlsx")


@lru_cache(maxsize=2)
def every_cell(language: str = ENGLISH) -> Plan:
    """As planned_cells of this edition, with the labels and the empty cells of the layout."""
    cells = {title: dict(plan) for title, plan in planned_cells(language=language).items()}
    for title, sheet in built_book(language).sheets.items():
        for address, cell in sheet.cells.items():
            kind = "label" if cell.value is not None else "empty"
            cells.setdefault(title, {}).setdefault(address, Planned(kind, cell.value, ""))
    return cells
