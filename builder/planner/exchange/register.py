"""Fills an outcome register with lines given by the keys of its columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from builder.engine.exchange.fill import fill
from builder.engine.exchange.in_files import as_shown
from builder.engine.exchange.language import typed_in_language
from builder.engine.layout import Place, Slot
from builder.engine.model import Model
from builder.engine.spec.errors import nearest
from builder.planner.exchange.casefile import CaseError, typed_value

SOURCE = "mean_k_source"  # the column whose words are none of a drop-down
Line = Mapping[str, Any]


def columns(model: Model) -> dict[str, list[Slot]]:
    """The typed cells of each column by its key, from the first line down, in the order of the columns."""
    found: dict[str, list[Slot]] = {}
    for slot in model.layout.slots:
        if slot.row.input is not None and slot.block.instances.long:
            found.setdefault(slot.row.publish, []).append(slot)
    return found


def room(model: Model) -> int:
    """How many lines a register has."""
    return len(next(iter(columns(model).values())))


def register_cells(model: Model, lines: Sequence[Line], name: str = "") -> dict[Place, Any]:
    """The typed cells of a register: its name, then one line an eye; None and "" leave a cell empty.

    Dates may be dates, ISO texts or serial numbers; words English ones or the register's own.
    Raises CaseError for an unknown key or too many lines.
    """
    slots = columns(model)
    if len(lines) > room(model):
        raise CaseError("register", "lines", f"are {len(lines)}", f"the register has room for {room(model)}")
    cells: dict[Place, Any] = {}
    if name:
        cells[model.layout.cells("plan", "typed_register_name")["", "plan"].place] = name
    for number, line in enumerate(lines):
        for key, value in line.items():
            if key not in slots:
                raise CaseError("register", key, "is no column of a line", nearest(key, slots))
            if value is not None and value != "":
                slot = slots[key][number]
                typed = typed_value("register", key, value, slot.row.input)
                cells[slot.place] = as_shown(model.spec.words, typed) if key == SOURCE else typed
    return typed_in_language(model, cells)


def fill_register(model: Model, lines: Sequence[Line], path: Path, name: str = "") -> None:
    """A register at `path` with these lines typed and every result stored. Raises CaseError."""
    fill(model, register_cells(model, lines, name), path)
