"""Puts a value into a cell of no formula, by its kind."""

from __future__ import annotations

from typing import Any

from builder.engine.spec.model import ErrorValue


def write_value(sheet: Any, line: int, column: int, value: Any, style: Any) -> Any:
    """Writes what is typed or constant; nothing leaves an empty cell with its style. What the sheet then says."""
    if value is None or value == "":
        return sheet.write_blank(line, column, None, style)
    if isinstance(value, bool):
        return sheet.write_boolean(line, column, value, style)
    if isinstance(value, ErrorValue):  # a program can paste one; the format has it only as the result of a formula
        return sheet.write_formula(line, column, "=NA()" if value == "#N/A" else "=1/0", style, str(value))
    if isinstance(value, str):
        return sheet.write_string(line, column, value, style)
    return sheet.write_number(line, column, value, style)
