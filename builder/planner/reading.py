"""Reads a workbook back by key: as it is stored, or computed anew by a program."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from builder.engine.audit.sheets import stored_values
from builder.engine.exchange.engines import recalculate
from builder.engine.exchange.language import values_in_english
from builder.engine.exchange.untrusted import Refused, open_untrusted
from builder.planner.exchange.read import arrange


def read_workbook(path: Path, engine: str = "stored") -> dict[str, Any]:
    """{"edition", "plan", "right", "left"} of a filled workbook, in English words whatever its language.

    Raises Refused, NotOurs, UnreadableFile, EngineMissing, EngineFailed.
    """
    package = open_untrusted(path)
    cells = stored_values(package) if engine == "stored" else recalculate([path], engine)[0]
    for (sheet, address), value in cells.items():
        if isinstance(value, float) and not math.isfinite(value):
            raise Refused("odd_content", path.name, f"{sheet} {address} holds no number")
    try:
        return arrange(values_in_english(cells), path.name)
    except (ValueError, LookupError, TypeError) as error:  # areas, instances and keys come from the file's own list
        raise Refused("odd_list", path.name) from error
