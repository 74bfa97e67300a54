"""A workbook computed by IronCalc, a compiled engine of another house: fast enough for thousands of drawn states."""

from __future__ import annotations

import re
import tempfile
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from builder.engine.addresses import address, spot
from builder.engine.exchange.cellvalues import Cells, Value
from builder.engine.exchange.office import EngineFailed, EngineMissing

SHEETS, EMPTY_NUMBER = "xl/worksheets/", re.compile(rb'(<c [^>]*?) t="n"([^>]*/>)')
LOCALE = ("en", "UTC", "en")  # of numbers, of the clock, of the function names


def library() -> Any:
    """The package, imported late because only checks need it. Raises EngineMissing."""
    try:
        import ironcalc
    except ImportError as error:
        raise EngineMissing("the Python package ironcalc is not installed; pip install ironcalc") from error
    return ironcalc


class IronCalcModel:
    """One loaded workbook, computed as a whole for each state: about 0.15 s for the planning workbook.

    Nothing that is stored in the file's formula cells is used: every cell is computed when it is evaluated.
    """

    def __init__(self, path: Path) -> None:
        """Loads a workbook. Raises EngineMissing; EngineFailed when the library cannot read it."""
        ironcalc = library()
        with tempfile.TemporaryDirectory(prefix="loaded-") as folder:
            try:
                self._book = ironcalc.load_from_xlsx(str(_with_blanks(path, Path(folder))), *LOCALE)
            except (ironcalc.WorkbookError, BaseException) as error:  # it panics, which is no Exception
                if isinstance(error, KeyboardInterrupt | SystemExit):
                    raise
                raise EngineFailed(f"IronCalc did not load {path}: {error}") from error
        self._titles = [sheet["name"] for sheet in self._book.get_worksheets_properties()]
        self._sheet = {title: number for number, title in enumerate(self._titles)}
        self._at = {
            (self._titles[sheet], address(column, row)): (sheet, row, column)
            for sheet, row, column in self._book.get_all_cells()
        }

    def calculate(
        self, typed: Mapping[tuple[str, str], Value] | None = None, only: Iterable[tuple[str, str]] | None = None
    ) -> Cells:
        """Every cell's value with these cells typed in, as `recalculate` gives them; or only those of some cells.

        KeyError for a cell that the file has not.
        """
        with self._typed(typed or {}):
            self._book.evaluate()
            read = self._book.get_cell_value
            wanted = self._at if only is None else {name: self._at[name] for name in only}
            return {name: _value(read(*place)) for name, place in wanted.items()}

    @contextmanager
    def _typed(self, typed: Mapping[tuple[str, str], Value]) -> Iterator[None]:
        """Types cells, and takes them back afterwards."""
        places = {place: self._place(place) for place in typed}
        before = {place: self._book.get_cell_value(*at) for place, at in places.items()}
        try:
            for place, value in typed.items():
                self._put(places[place], value)
            yield
        finally:
            for place, at in places.items():
                self._put(at, before[place])

    def _place(self, place: tuple[str, str]) -> tuple[int, int, int]:
        if place in self._at:
            return self._at[place]
        title, cell = place
        if title not in self._sheet:
            raise KeyError(f"{title}!{cell} is no cell of the file")
        column, line = spot(cell)
        return self._sheet[title], line, column

    def _put(self, at: tuple[int, int, int], value: Value) -> None:
        """A value as it is, never parsed; an error value by a formula that yields it."""
        book = self._book
        if value is None:
            book.clear_cell_contents(*at)
        elif isinstance(value, bool):
            book.update_cell_with_bool(*at, value)
        elif isinstance(value, str):
            error = {"#N/A": "=NA()", "#DIV/0!": "=1/0", "#VALUE!": '="a"+1'}.get(value)
            if error:
                book.update_cell_with_formula(*at, error)
            else:
                book.update_cell_with_text(*at, value)
        else:
            book.update_cell_with_number(*at, float(value))

    def saved(self) -> bytes:
        """The workbook as the library saves it, computed."""
        self._book.evaluate()
        with tempfile.TemporaryDirectory(prefix="saved-") as folder:
            path = Path(folder) / "book.xlsx"
            self._book.save_to_xlsx(str(path))
            return path.read_bytes()


def _with_blanks(path: Path, folder: Path) -> Path:
    """The file, or a copy in which no empty cell is called a number, as openpyxl does: the library takes it for 0."""
    try:
        with zipfile.ZipFile(path) as archive:
            parts = {name: archive.read(name) for name in archive.namelist()}
    except (OSError, zipfile.BadZipFile):
        return path  # the library says what is wrong with it
    changed = {name: EMPTY_NUMBER.sub(rb"\1\2", data) for name, data in parts.items() if name.startswith(SHEETS)}
    if all(parts[name] == data for name, data in changed.items()):
        return path
    copy = folder / path.name
    with zipfile.ZipFile(copy, "w") as archive:
        for name, data in (parts | changed).items():
            archive.writestr(name, data)
    return copy


def _value(value: Value) -> Value:
    """An empty text and an empty cell are both None, as in the other engines."""
    return None if value == "" else value
