"""Cells as they are written, such as B12, $B$2 and 'Yearly table'!A1:B2: the one home of reading and writing them.

Columns and lines are counted from 1, as files and programs do.
"""

from __future__ import annotations

import re
from functools import cache

LINES, COLUMNS = 1_048_576, 16_384  # of a sheet
COLUMN = "[A-Z]{1,3}"
PLAIN = f"{COLUMN}[0-9]+"  # a cell, as the part of a pattern
CELL = rf"\$?{COLUMN}\$?[0-9]+"  # a cell with or without its $
TITLE = r"'(?:[^']|'')+'!|[A-Za-z_]\w*!"  # what stands before a cell of another sheet
_SPOT = re.compile(r"\$?([A-Za-z]{1,3})\$?([0-9]+)")
_BASE = 26


@cache  # of all columns there are 16,384, and the same few are asked for over and over
def letters(column: int) -> str:
    """The name of a column, as in AB for 28."""
    name = ""
    while column:
        column, rest = divmod(column - 1, _BASE)
        name = chr(ord("A") + rest) + name
    return name


@cache
def column_of(name: str) -> int:
    """The number of a column, as in 28 for AB."""
    number = 0
    for letter in name.upper():
        number = number * _BASE + ord(letter) - ord("A") + 1
    return number


def address(column: int, line: int, fixed: bool = False) -> str:
    """A cell, as in B12; `fixed`: as in $B$12."""
    return f"${letters(column)}${line}" if fixed else f"{letters(column)}{line}"


def spot(cell: str) -> tuple[int, int]:
    """Column and line of a cell, with or without its $. Raises ValueError for what is no cell."""
    found = _SPOT.fullmatch(cell)
    if found is None or not int(found[2]):
        raise ValueError(f"{cell[:40]} is no cell")
    return column_of(found[1]), int(found[2])


def area(left: int, top: int, right: int, bottom: int) -> str:
    """An area, as in A1:B2; of one cell, that cell."""
    first, last = address(left, top), address(right, bottom)
    return first if first == last else f"{first}:{last}"


def box(written: str) -> tuple[int, int, int, int]:
    """First column, first line, last column and last line of an area or a cell. Raises ValueError for what is none."""
    first, _, last = written.partition(":")
    return (*spot(first), *spot(last or first))


def within(written: str, largest: int) -> list[str]:
    """The cells of an area, line by line. Raises ValueError for what is none, or has more cells than the largest."""
    left, top, right, bottom = box(written)
    if (right - left + 1) * (bottom - top + 1) > largest:
        raise ValueError(f"{written[:40]} has more than {largest} cells")
    return [address(column, line) for line in range(top, bottom + 1) for column in range(left, right + 1)]


def on_sheet(title: str, written: str) -> str:
    """A cell or an area of a sheet, seen from another one: a title of letters, then digits, needs no quotes."""
    plain = title.isascii() and title.isalnum() and not title[0].isdigit()
    return f"{title}!{written}" if plain else f"{quoted(title)}!{written}"


def quoted(title: str) -> str:
    """A sheet's title in its quotes."""
    return "'" + title.replace("'", "''") + "'"


def apart(cited: str) -> tuple[str, str]:
    """Title of the sheet ("" without one) and the cell or area that a text such as 'Yearly table'!$A$1:$A$9 cites."""
    title, _, written = cited.rpartition("!")
    if len(title) > 1 and title.startswith("'") and title.endswith("'"):
        title = title[1:-1].replace("''", "'")
    return title, written
