"""An older edition from what is at hand: a workbook, the dump of an edition, or the name of a known one."""

from __future__ import annotations

import datetime
import re
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils.datetime import to_excel
from openpyxl.utils.exceptions import InvalidFileException

from builder.engine.editions.store import EDITIONS, Cell, Edition, UnknownEdition, edition_from, load_edition
from builder.engine.exchange.cellvalues import Cells, UnreadableFile
from builder.engine.exchange.language import language_of, title_of, workbook_of
from builder.engine.exchange.listed import NotOurs, area_cells, list_lines, listed_edition
from builder.engine.exchange.untrusted import Refused
from builder.engine.spec import WorkbookSpec
from builder.engine.spec.words import ENGLISH, shared_words

CONSTANT_HEADS = ("list_label", "list_value", "list_unit", "list_mark", "list_source", "list_name")
AS_FUNCTION = re.compile(r'("[^"]*")|\b(TRUE|FALSE)\(\)')  # as LibreOffice writes it; texts come first
TEXT = "text"  # the role of a cell that no row names: a heading or a label


def open_old(old: str, spec: WorkbookSpec, folder: Path = EDITIONS) -> Edition:
    """The edition in a workbook (.xlsx) or dump (.txt), or the known edition of that name.

    Raises UnknownEdition, UnreadableFile, NotOurs, Refused.
    """
    path = Path(old)
    if path.suffix not in (".xlsx", ".txt"):
        return load_edition(old, folder)
    if not path.exists():
        raise UnreadableFile(f"{old}: there is no such file")
    if path.suffix == ".xlsx":
        return _from_workbook(path, spec, folder)
    try:
        return edition_from(path)
    except (ValueError, UnicodeDecodeError) as error:
        todo = "give a dump of specs/editions/, a workbook (.xlsx) or the name of a released edition"
        raise UnreadableFile(f"{old}: {error}; {todo}") from None


def _from_workbook(path: Path, spec: WorkbookSpec, folder: Path) -> Edition:
    """An edition as the formulas in a file give it; its texts come from its dump where that is known."""
    try:
        book = load_workbook(path, read_only=False, data_only=False, keep_links=False)
    except (OSError, zipfile.BadZipFile, InvalidFileException, KeyError, ValueError) as error:
        raise UnreadableFile(f"{path}: not a readable .xlsx workbook ({error})") from None
    held: Cells = {
        (sheet.title, cell.coordinate): _plain(cell.value)
        for sheet in book.worksheets
        for line in sheet.iter_rows()
        for cell in line
        if cell.value is not None
    }
    held = {place: as_built(value) for place, value in held.items()}
    locks = {
        (sheet.title, cell.coordinate): cell.protection.locked
        for sheet in book.worksheets
        for line in sheet.iter_rows()
        for cell in line
    }
    other = workbook_of(book.sheetnames, spec.home)
    if other != spec.name:
        raise Refused("other_workbook", path.name, *(title_of(name, spec.home) for name in (other, spec.name)))
    cells = {place: Cell("", TEXT, repr(value), "", True) for place, value in held.items()}
    units: dict[str, str] = {}
    lines = list_lines(held, path.name, spec.home)
    edition = listed_edition(held, lines, spec.edition)
    for line in lines:
        for place, name in _names(line, spec):
            value = held.get(place)
            formula = isinstance(value, str) and value.startswith("=") and line["role"] != "typed"
            role = "typed" if line["role"] == "typed" else "formula" if formula else "constant"
            holds = "" if role == "typed" else str(value) if formula else repr("" if value is None else value)
            cells[place] = Cell(name, role, holds, "", bool(locks.get(place, True)))
    for place, name, value, unit in _constants(held, spec.home):
        cells[place] = Cell(name, "constant", repr(value), "constant", True)
        units[name] = unit
    if not edition or not units:
        raise NotOurs(f"{path.name}: it names no edition or holds no constants, so it is not one of our workbooks")
    try:
        words = load_edition(edition, folder).words
    except (UnknownEdition, ValueError):
        words = {}
    language = language_of({sheet for sheet, _ in held}, spec.name, spec.home)
    title = spec.name if language == ENGLISH else f"{spec.name}-{language}"
    shown = spec.edition, spec.edition_taken
    return Edition(edition, title, cells, words, units, shown_in=shown, takes_from=spec.takes_from, once=spec.once)


def _plain(value: Any) -> Any:
    """A cell's value as number or text: a date is its serial number, an array formula its text."""
    if isinstance(value, datetime.date | datetime.datetime | datetime.time | datetime.timedelta):
        return to_excel(value)
    return value if isinstance(value, str | int | float) else str(getattr(value, "text", value))


def as_built(value: Any) -> Any:
    """A formula that another program has saved, as we write it."""
    if not isinstance(value, str) or not value.startswith("="):
        return value
    return AS_FUNCTION.sub(lambda found: found[1] or found[2], value)


def _names(line: dict[str, str], spec: WorkbookSpec) -> list[tuple[tuple[str, str], str]]:
    """The cells of a line of the file's formula list with their names over the workbook."""
    owner, _, listed = line["instances"].partition(": ")
    groups = [area_cells(line["sheet"], area) for area in line["cells"].split()]
    known = list(spec.lists[owner].keys if owner in spec.lists else ())
    keys = listed.split() or known
    if "…" in keys and {keys[0], keys[-1]} <= set(known):  # a long stretch, of which the list names the ends
        keys = known[known.index(keys[0]) : known.index(keys[-1]) + 1]
    sides, only = spec.sides.keys, spec.lists[owner].per if owner in spec.lists else ""
    named = []
    for side, group in zip(sides if len(groups) > 1 else (only if only in sides else "",), groups, strict=True):
        if len(keys) != len(group):  # a long list that is another now
            keys = [f"{owner}{n}" for n in range(len(group))]
        for place, instance in zip(group, keys, strict=True):
            own = "" if instance == side else instance
            named.append((place, ".".join(part for part in (side, own, line["name"]) if part)))
    return named


def _constants(held: Cells, specs: Path) -> list[tuple[tuple[str, str], str, Any, str]]:
    """Place, name, value and unit of every constant, from the sheet with their heads."""
    for words in shared_words(specs):
        heads = [words.get("word", key) for key in CONSTANT_HEADS]
        for (sheet, address), value in held.items():
            if value == heads[0] and address.startswith("A"):
                line = int(address[1:])
                if [held.get((sheet, f"{column}{line}")) for column in "ABCDEF"] == heads:
                    units = {text: key for key, text in words.tables["unit"].items()}
                    return _constant_lines(held, sheet, line + 1, units)
    return []


def _constant_lines(
    held: Cells, sheet: str, line: int, units: Mapping[str, str]
) -> list[tuple[tuple[str, str], str, Any, str]]:
    found = []
    while held.get((sheet, f"F{line}")) is not None:
        unit = str(held.get((sheet, f"C{line}")) or "")
        found.append(
            ((sheet, f"B{line}"), str(held[sheet, f"F{line}"]), held.get((sheet, f"B{line}")), units.get(unit, unit))
        )
        line += 1
    return found
