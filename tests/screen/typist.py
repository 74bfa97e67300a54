"""How a person types a case with the keyboard alone: the keys from cell to cell, sheet by sheet, as the tabs stand."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from builder.engine.layout import Place, Slot
from builder.engine.model import Model
from builder.planner.exchange.casefile import DAY_ZERO

NEXT_SHEET, OPEN_LIST = "ctrl+Next", "alt+Down"
BOX = "ctrl+shift+t"  # the program's own box for an address
PATIENT = 6  # times that a person presses Enter on the way to a cell, before typing its address is less work


@dataclass(frozen=True)
class Step:
    """One cell: the keys that lead there, what is typed, the keys that end it. A key is a name or a text's letter."""

    slot: Slot
    way: tuple[str, ...]
    typed: tuple[str, ...]
    end: tuple[str, ...] = ("Return",)

    @property
    def keys(self) -> int:
        """How many keys are pressed."""
        return len(self.way) + len(self.typed) + len(self.end)


def steps(model: Model, typed: Mapping[Place, Any], lenses: Sequence[str]) -> Iterator[Step]:
    """From the first sheet, on which the workbook opens, through all typed cells, down one column of each sheet.

    `lenses`: what their drop-down offers, in its order. On a locked sheet Enter goes to the next cell of the column
    that may be typed into; a sheet that was not visited yet opens on the first one that has no default.
    """
    opened = 0
    for number, sheet in enumerate(sheet.key for sheet in model.spec.sheets):
        wanted = sorted(place for place in typed if place.sheet == sheet)
        if not wanted:
            continue
        slots = {s.place: s for s in model.layout.slots if s.place.sheet == sheet and s.row.input is not None}
        column = sorted(place for place in slots if place.column == wanted[0].column)
        way = [NEXT_SHEET] * (number - opened)
        cursor = next(n for n, place in enumerate(column) if (item := slots[place].row.input) and not item.default)
        opened = number
        for place in wanted:
            skipped = column.index(place) - cursor
            way += ["Return"] * skipped if skipped <= PATIENT else [BOX, *place.address, "Return"]
            yield Step(slots[place], tuple(way), _typed(model, slots[place], typed[place], lenses))
            cursor, way = column.index(place) + 1, []


def _typed(model: Model, slot: Slot, value: Any, lenses: Sequence[str]) -> tuple[str, ...]:
    """The keys of a value: letter by letter, or out of the drop-down where that takes fewer."""
    item = slot.row.input
    assert item is not None
    if item.type == "date":
        return tuple((DAY_ZERO + datetime.timedelta(int(value))).isoformat())
    if not isinstance(value, str):
        return tuple(f"{value:g}")
    if item.type == "choice":  # the list goes to the first word that begins with what is typed
        words = [model.spec.words.get("choice", key) for key in item.choices]
        ways = (value[:length] for length in range(1, len(value) + 1))
        chosen = tuple(next(way for way in ways if next(word for word in words if word.startswith(way)) == value))
    elif item.type == "listed":
        chosen = ("Home", *("Down",) * lenses.index(value))  # it opens where the cell is: on the empty line
    else:
        return tuple(value)
    return min((OPEN_LIST, *chosen, "Return"), tuple(value), key=len)
