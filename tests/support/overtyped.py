"""A workbook in which some formula cells hold what is typed into them, so that others are seen with any input."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Any

from builder.engine.exchange.fill import fill
from builder.engine.layout import Place
from builder.engine.model import Model
from tests.support.displays import Shows, displayed
from tests.support.hostile import pack, parts_of
from tests.support.many_states import TypedFormula, in_gnumeric, told
from tests.support.workbooks import at

FORMULA = re.compile(r"<f>[^<]*</f>")


def without_formulas(model: Model, places: Collection[Place], target: Path) -> Path:
    """The blank workbook with the stored values alone in these cells."""
    fill(model, {}, target)
    parts = parts_of(target)
    for number, sheet in enumerate(model.spec.sheets, 1):
        part = f"xl/worksheets/sheet{number}.xml"
        mine = "|".join(place.address for place in places if place.sheet == sheet.key)
        if mine:
            cell = re.compile(rf'<c r="(?:{mine})"[^>]*>.*?</c>')
            text = parts[part].decode()
            parts[part] = cell.sub(lambda found: FORMULA.sub("", found[0]), text).encode()
    return pack(parts, target)


def seen_in_gnumeric(model: Model, states: Sequence[Shows], folder: Path) -> list[dict[Place, Any]]:
    """What Gnumeric shows in the cells that each state is about."""
    book = without_formulas(model, displayed(model.spec.name).read, folder / "overtyped.xlsx")
    typed = [
        {at(model, place): TypedFormula('""') if value is None else value for place, value in state.given.items()}
        for state in states
    ]
    areas: dict[str, list[str]] = {}
    for title, address in sorted({at(model, place) for state in states for place in state.wanted}):
        areas.setdefault(title, []).append(address)
    found = in_gnumeric(book, typed, areas)
    return [
        {place: told(cells[at(model, place)], value) for place, value in state.wanted.items()}
        for state, cells in zip(states, found, strict=True)
    ]
