"""The values that LibreOffice computes or shows, told as plain text: half the work of saving a workbook again."""

from __future__ import annotations

import datetime
import re
import tempfile
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from builder.engine.addresses import address
from builder.engine.exchange import office
from builder.engine.exchange.cellvalues import Cells, Value, sheet_parts

# Its text filter: commas, quotes, UTF-8, from the first line, standard format, any language, every text in quotes (so
# that "1" is told from 1), numbers as they are and not as shown, no formulas, nothing trimmed, every sheet in a file.
FILTER, OPTIONS = "Text - txt - csv (StarCalc)", "44,34,76,1,,0,true,true,false,false,false,-1"
_FIELD = re.compile(r'(?:"((?:[^"]|"")*)"|([^,\n]*))([,\n])')
_DATE = re.compile(r"\d{4}-\d\d-\d\d")
_DAY_0 = datetime.date(1899, 12, 30)
_LOGICAL = {"TRUE": True, "FALSE": False}


def office_values(paths: Sequence[Path], recalculate: bool) -> list[Cells]:
    """Values of each workbook by (sheet title, address), as `engines.recalculate` gives them, in one call.

    A number has 15 digits, in scientific notation (below 0.0001) eleven or so.

    Raises EngineMissing; EngineFailed when the program did not open a file.
    """
    with tempfile.TemporaryDirectory(prefix="told-") as name:
        titles = [sheet_titles(path) for path in paths]
        books = office.convert_sheets(paths, Path(name), f"csv:{FILTER}:{OPTIONS}", titles, recalculate)
        return [told_cells(files) for files in books]


def told_cells(files: Mapping[str, Path]) -> Cells:
    """The cells of a workbook, given by a text file of FILTER and OPTIONS for each sheet title."""
    return {cell: value for title, file in files.items() for cell, value in _cells(title, file)}


def sheet_titles(path: Path) -> list[str]:
    """The titles of a workbook's sheets, in order."""
    with zipfile.ZipFile(path) as archive:
        return [title for title, _ in sheet_parts(archive)]


def _cells(title: str, file: Path) -> Iterator[tuple[tuple[str, str], Value]]:
    line = column = 1
    for text, plain, end in _FIELD.findall(file.read_text(encoding="utf-8")):
        value = _value(plain) if plain else text.replace('""', '"') or None
        yield (title, address(column, line)), value
        line, column = (line, column + 1) if end == "," else (line + 1, 1)


def _value(plain: str) -> Value:
    """What stands without quotes: a number, also as a date or in percent, TRUE or FALSE, or an error value."""
    if _DATE.fullmatch(plain):
        return float((datetime.date.fromisoformat(plain) - _DAY_0).days)
    try:
        return float(plain[:-1]) / 100 if plain.endswith("%") else float(plain)
    except ValueError:
        return _LOGICAL.get(plain, plain)
