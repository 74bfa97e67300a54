"""What an edition has in every cell: of this edition from the model, of older ones from their dumps."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from builder.audit.book import BookView, open_book
from builder.exchange.fill import fill
from builder.model import load_model, plan_edition
from builder.write.job import Job
from builder.write.styles import Styles


class Planned(NamedTuple):
    """What belongs into a cell: "formula", "constant", "typed", "label" or "empty", its content and the row's key."""

    kind: str
    content: Any
    key: str


Plan = Mapping[str, Mapping[str, Planned]]


@lru_cache(maxsize=2)
def planned_cells(name: str = "plan") -> Plan:
    """Every cell of a workbook that computes or is typed into, by sheet title and address."""
    model = load_model(name)
    spec = model.spec
    title = {sheet.key: spec.words.get("sheet", sheet.key) for sheet in spec.sheets}
    cells: dict[str, dict[str, Planned]] = {name: {} for name in title.values()}
    for constant in spec.constants.values():
        place = model.constants[constant.key]
        cells[title[place.sheet]][place.address] = Planned("constant", float(constant.value), constant.key)
    editions = (model.edition, plan_edition(model))
    job = Job(spec, model.layout, model.constants, model.compiled, *editions, {}, {}, Styles(None, spec.styles))
    for slot in model.layout.slots:
        role, place = slot.row.role(slot.instance), slot.place
        owner = slot.eye if slot.eye in ("", slot.instance) else f"{slot.eye}.{slot.instance}"
        key = slot.row.key if slot.instance == "plan" else f"{owner or slot.instance}.{slot.row.key}"
        content: Any = None
        if role == "formula":
            content = model.compiled[place].formula
        elif role == "constant":
            content = job.constant_value(slot.row, slot.instance)
            content = float(content) if isinstance(content, int | float) else content
        cells[title[place.sheet]][place.address] = Planned(role, content, key)
    return cells


@lru_cache(maxsize=2)
def built_book(name: str = "plan") -> BookView:
    """The blank workbook of this edition, written and read back as any other file."""
    with tempfile.TemporaryDirectory(prefix="edition-") as folder:
        fill(load_model(name), {}, Path(folder) / "blank.xlsx")
        return open_book(Path(folder) / "blank.xlsx")


@lru_cache(maxsize=2)
def every_cell(name: str = "plan") -> Plan:
    """As planned_cells, with the labels and the empty cells of the layout."""
    cells = {title: dict(plan) for title, plan in planned_cells(name).items()}
    for title, sheet in built_book(name).sheets.items():
        for address, cell in sheet.cells.items():
            kind = "label" if cell.value is not None else "empty"
            cells[title].setdefault(address, Planned(kind, cell.value, ""))
    return cells
