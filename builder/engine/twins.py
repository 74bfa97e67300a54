"""Where the reference of a workbook computes each row: seen as it computes the blank workbook, from who puts it."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from types import FrameType
from typing import Any
from weakref import WeakKeyDictionary

from builder.engine.layout import Layout
from builder.engine.model import Model
from builder.engine.values import reference_of

HOME = Path(__file__).resolve().parents[2]
ITS_PARTS = "its parts: it only shows them"
STEP = "what it leads to: it is a step, and its own formula computes it"
ITSELF = "its own formula alone: the workbook names no reference"
WRITTEN = "tests/displays/{}, by written expectations: its own formula computes it, for it only displays"

Twins = Mapping[tuple[str, str], str]

_found: WeakKeyDictionary[Layout, Twins] = WeakKeyDictionary()  # asked again for every key


def twins(model: Model) -> Twins:
    """File and function by list and row, as `builder/house/reference/payment.py, yearly`.

    A row that is not there follows from its parts: the reference does not compute it.
    """
    if model.layout not in _found:
        _found[model.layout] = _watched(model) if model.spec.reference else _alone(model)
    return _found[model.layout]


def _alone(model: Model) -> Twins:
    rows = {(slot.block.instances.name, slot.row.key): slot.row for slot in model.layout.slots}
    return {at: ITSELF for at, row in rows.items() if not row.echo}


def _watched(model: Model) -> Twins:
    """Who calls one of the functions that the reference puts its rows with, its PUTS."""
    reference = reference_of(model)
    puts = {put.__code__ for put in reference.PUTS}
    written = WRITTEN.format(model.spec.name)
    found: dict[tuple[str, str], str] = {}
    alone = {(s.block.instances.name, s.row.key): s.row for s in model.layout.slots if s.row.display or s.row.step}

    def watch(frame: FrameType, event: str, _: Any) -> None:
        caller = frame.f_back
        if event == "call" and frame.f_code in puts and caller is not None:
            path = Path(caller.f_code.co_filename)
            shown = path.relative_to(HOME) if path.is_relative_to(HOME) else path
            for key in frame.f_locals["rows"]:  # the first: what follows asks "what if"
                at = frame.f_locals["list_name"], key
                found.setdefault(at, f"{shown.as_posix()}, {caller.f_code.co_name}")

    before = sys.getprofile()
    sys.setprofile(watch)
    try:
        reference.evaluate_cases(model, [{}])
    finally:
        sys.setprofile(before)
    return {at: written if row.display else STEP for at, row in alone.items()} | found
