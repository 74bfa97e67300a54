"""Types states into one open workbook in Gnumeric and tells its cells. Run by the system's Python, which has Gnumeric's
library; it imports nothing of the project.

Standard input, JSON, all counted from 0:
    path     of the workbook
    states   lists of (sheet, line, column, kind, text); kinds: blank, float, string, boolean, error, formula
    areas    a list of (sheet, first column, first line, last column, last line)
The file named as the first argument gets a line of JSON a state: the texts of all cells of the areas, then, for each
further state, what differs from the first: {number of the cell: text}.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

Spot = tuple[Any, int, int]  # sheet, line, column


def library() -> Any:
    """Gnumeric's library. ImportError or ValueError where it is not installed."""
    import gi

    gi.require_version("Gnm", "1.12")
    gi.require_version("GOffice", "0.10")
    from gi.repository import Gnm, GOffice

    return Gnm, GOffice


class Book:
    """An open workbook, computed anew as a whole for each state."""

    def __init__(self, path: str) -> None:
        """Opens it with the reader that Gnumeric's converter uses."""
        self._gnm, self._office = gnm, office = library()
        gnm.init()
        self._context = gnm.CmdContextStderr.new()
        gnm.plugins_init(self._context)
        source = office.filename_to_uri(path)
        self._view = gnm.WorkbookView.new_from_uri(source, None, office.IOContext.new(self._context), None)
        self._book = self._view.props.workbook
        sheets = [self._book.sheet_by_index(number) for number in range(self._book.sheet_count())]
        self.sheets = {sheet.name_unquoted: sheet for sheet in sheets}

    def texts(self, cells: list[Spot]) -> list[str]:
        """What cells hold after every formula is computed; a number with as many digits as tell it apart."""
        self._book.recalc_all()
        values = [sheet.cell_get_value(column, line) for sheet, line, column in cells]
        return ["" if value is None else value.get_as_string() for value in values]

    def held(self, spot: Spot) -> tuple[str, str]:
        """Kind and text of a cell that holds no formula."""
        sheet, line, column = spot
        cell = sheet.cell_get(column, line)
        if cell is None or cell.value is None:
            return "blank", ""
        if cell.has_expr():
            raise ValueError(f"{sheet.name_unquoted}, line {line + 1}, column {column + 1}: a formula stands there")
        kind = cell.value.type_of().value_nick
        return ("blank", "") if kind == "empty" else (kind, cell.value.get_as_string())

    def put(self, spot: Spot, kind: str, text: str) -> None:
        """Types into a cell, as it is: no text is parsed."""
        gnm = self._gnm
        sheet, line, column = spot
        if kind == "blank":
            sheet.clear_region(column, line, column, line, gnm.SheetClearFlags.VALUES, self._context)
        elif kind == "formula":
            sheet.cell_set_text(column, line, f"={text}")
            if not sheet.cell_get(column, line).has_expr():  # a link, say, which it reads from a file as an error value
                self.put(spot, "error", "#NAME?")
        elif kind == "boolean":
            sheet.cell_set_value(column, line, gnm.Value.new_bool(text == "TRUE"))
        else:
            of_kind, general = getattr(gnm.ValueType, kind.upper()), self._office.Format.general()
            sheet.cell_set_value(column, line, gnm.Value.new_from_string(of_kind, text, general, False))


def main() -> int:
    """Tells the states of the job; with --there only whether the library is."""
    if sys.argv[1:] == ["--there"]:
        library()
        return 0
    job = json.load(sys.stdin)
    book = Book(job["path"])
    cells = [
        (book.sheets[sheet], line, column)
        for sheet, left, top, right, bottom in job["areas"]
        for line in range(top, bottom + 1)
        for column in range(left, right + 1)
    ]
    first: list[str] = []
    with Path(sys.argv[1]).open("w", encoding="utf-8") as told:
        for state in job["states"]:
            spots = [(book.sheets[sheet], line, column) for sheet, line, column, _, _ in state]
            before = [book.held(spot) for spot in spots]
            for spot, (*_, kind, text) in zip(spots, state, strict=True):
                book.put(spot, kind, text)
            seen = book.texts(cells)
            changed = {n: text for n, text in enumerate(seen) if text != first[n]} if first else seen
            told.write(json.dumps(changed) + "\n")
            first = first or seen
            for spot, (kind, text) in zip(spots, before, strict=True):
                book.put(spot, kind, text)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
