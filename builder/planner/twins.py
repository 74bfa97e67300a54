"""Where the reference computes each row: seen as it computes the blank workbook, from who puts a value there."""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path
from types import FrameType
from typing import Any

from builder.engine.model import load_model
from builder.planner.reference.plan.cells import Values
from builder.planner.reference.register.rows import Rows
from builder.planner.values import evaluate_cases

HOME = Path(__file__).resolve().parents[2]


@cache
def twins(workbook: str, language: str) -> dict[tuple[str, str], str]:
    """File and function by list and row, as `builder/planner/reference/plan/power.py, in_focus`.

    A row that is not there follows from its parts: the reference does not compute it.
    """
    model = load_model(workbook, language)
    written = f"tests/displays/{workbook}, by written expectations: its own formula computes it, for it only displays"
    found = {(slot.block.instances.name, slot.row.key): written for slot in model.layout.slots if slot.row.display}
    puts = Values.put.__code__, Rows.put.__code__

    def watch(frame: FrameType, event: str, _: Any) -> None:
        caller = frame.f_back
        if event == "call" and frame.f_code in puts and caller is not None:
            place = f"{Path(caller.f_code.co_filename).relative_to(HOME).as_posix()}, {caller.f_code.co_name}"
            for key in frame.f_locals["rows"]:
                found.setdefault((frame.f_locals["list_name"], key), place)  # the first: what follows asks "what if"

    before = sys.getprofile()
    sys.setprofile(watch)
    try:
        evaluate_cases(model, [{}])
    finally:
        sys.setprofile(before)
    return found
