"""What an edition has in every cell: what computes and is typed from its dump, all else from the workbook as built."""

from __future__ import annotations

import tempfile
from collections.abc import Collection, Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from builder.engine.audit.book import BookView, view_of
from builder.engine.audit.by_hand import Prints, prints_of
from builder.engine.dump import name_of
from builder.engine.editions import Edition, load_edition
from builder.engine.editions.store import EDITIONS
from builder.engine.exchange.fill import fill
from builder.engine.exchange.language import language_of, workbook_of
from builder.engine.exchange.untrusted import open_untrusted
from builder.engine.model import Model, constant_value, edition_taken, load_model
from builder.engine.spec.lists import takers
from builder.engine.spec.reading import SPECS
from builder.engine.spec.words import ENGLISH


class Planned(NamedTuple):
    """What belongs into a cell: "formula", "constant", "typed", "label" or "empty", its content and the row's name."""

    kind: str
    content: Any
    key: str


PlannedCells = Mapping[str, Mapping[str, Planned]]


class Which(NamedTuple):
    """A workbook of this edition, by default the one that is meant where none is named.

    `lines`: of another length of its list of lines than the specs say. `specs`: the folder of all specs.
    """

    workbook: str = ""
    language: str = ENGLISH
    lines: int | None = None
    specs: Path = SPECS

    def model(self) -> Model:
        """Everything about it."""
        return load_model(self.workbook, self.language, self.specs, self.lines)


def which_of(titles: Collection[str], lines: int | None = None, specs: Path = SPECS) -> Which:
    """The workbook, and the language, that has most of these sheets."""
    workbook = workbook_of(titles, specs)
    lines = lines if workbook in takers(specs) else None
    return Which(workbook, language_of(titles, workbook, specs), lines, specs)


def planned_cells(which: Which, edition: str = "") -> PlannedCells:
    """Every cell of an edition that computes or is typed into, by sheet title and address; "": of this edition.

    Raises UnknownEdition.
    """
    return _planned(which, edition or which.model().edition)


@lru_cache(maxsize=8)
def _planned(which: Which, edition: str) -> PlannedCells:
    model = which.model()
    if edition == model.edition:
        known = _of_model(model)
    else:
        known = _of_dump(load_edition(edition, which.specs / EDITIONS.name))
    cells: dict[str, dict[str, Planned]] = {}
    for (title, address), planned in known:
        content = float(planned.content) if isinstance(planned.content, int) else planned.content
        cells.setdefault(title, {})[address] = planned._replace(content=content)
    return cells


def _of_dump(edition: Edition) -> Iterator[tuple[tuple[str, str], Planned]]:
    for at, cell in edition.cells.items():
        formula, constant = cell.holds.removeprefix("="), cell.role == "constant"
        content = formula if cell.role == "formula" else edition.value(cell) if constant else None
        yield at, Planned(cell.role, content, cell.name)


def _of_model(model: Model) -> Iterator[tuple[tuple[str, str], Planned]]:
    for key, place in model.constants.items():
        yield model.at(place), Planned("constant", model.spec.constants[key].value, key)
    taken = edition_taken(model)
    for slot in model.layout.slots:
        role, content = slot.row.role(slot.instance), None
        if role == "formula":
            content = model.compiled[slot.place].formula
        elif role == "constant":
            content = constant_value(model.spec, slot.row, slot.instance, model.edition, taken)
        yield model.at(slot.place), Planned(role, content, name_of(slot))


def built_book(which: Which) -> BookView:
    """The blank workbook of this edition, written and read back as any other file."""
    return _built(which)[0]


def built_prints(which: Which) -> Prints:
    """What the parts of the blank workbook of this edition are known by."""
    return _built(which)[1]


@lru_cache(maxsize=3)
def _built(which: Which) -> tuple[BookView, Prints]:
    with tempfile.TemporaryDirectory(prefix="edition-") as folder:
        fill(which.model(), {}, Path(folder) / "blank.xlsx")
        package = open_untrusted(Path(folder) / "blank.xlsx")
    return view_of(package), prints_of(package.parts)


@lru_cache(maxsize=3)
def every_cell(which: Which) -> PlannedCells:
    """As planned_cells of this edition, with the labels and the empty cells of the layout."""
    cells = {title: dict(planned) for title, planned in planned_cells(which).items()}
    for title, sheet in built_book(which).sheets.items():
        for address, cell in sheet.cells.items():
            kind = "label" if cell.value is not None else "empty"
            cells.setdefault(title, {}).setdefault(address, Planned(kind, cell.value, ""))
    return cells
