"""What stands on one worksheet of a file, read from its XML as it is: nothing computed, nothing followed."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Any, NamedTuple
from xml.etree.ElementTree import Element

from openpyxl.formula.tokenizer import TokenizerError
from openpyxl.formula.translate import Translator, TranslatorError

from builder.engine import addresses
from builder.engine.addresses import COLUMN, COLUMNS, LINES
from builder.engine.audit.stored import SPACES, BrokenSheet, local, rich_text, value_of

SEVERAL = ("cols", "conditionalFormatting")  # of all others there is one on a sheet
SETTINGS = ("sheetData", "row", "c", "cols", "sheetProtection", "sheetFormatPr", "mergeCells", "conditionalFormatting")
WRAPPED = frozenset(space + name for space in SPACES for name in SETTINGS)  # which programs may read at another place


_FIXED = rf"\${COLUMN}\$[0-9]+"
_STAYS = re.compile(f"{_FIXED}(?::{_FIXED})?")  # a reference that is the same in every cell
_MOVES = re.compile(r"[A-Za-z]\$?[0-9]|:")  # what may be one that is not


class Cell(NamedTuple):
    """Formula without its equals sign (None: none), how it is kept ("", "array", "dataTable"), stored value, style."""

    formula: str | None
    form: str
    value: Any
    style: int


@dataclass
class SheetView:
    """One worksheet: cells by address, lines and columns with their sizes, and the elements around them."""

    title: str
    state: str = "visible"
    cells: dict[str, Cell] = field(default_factory=dict)
    twice: list[str] = field(default_factory=list)
    lines: dict[int, Mapping[str, str]] = field(default_factory=dict)
    columns: list[Mapping[str, str]] = field(default_factory=list)
    parts: dict[str, list[Element]] = field(default_factory=dict)

    @cached_property
    def ends(self) -> tuple[int, int]:
        """The last column and the last line in which a cell stands; 0 of a sheet without cells. Raises ValueError."""
        spots = [addresses.spot(cell) for cell in self.cells]
        return max((column for column, _ in spots), default=0), max((line for _, line in spots), default=0)

    def part(self, name: str) -> Mapping[str, str]:
        """The attributes of the first element of a name; none if it is not there."""
        return self.parts[name][0].attrib if name in self.parts else {}


def is_on(attributes: Mapping[str, str], name: str, default: bool = False) -> bool:
    """A logical attribute, as any program writes it."""
    text = attributes.get(name)
    return default if text is None else text.lower() in ("1", "true", "on")


def number(attributes: Mapping[str, str], name: str, default: float) -> float:
    """A number among the attributes. Raises BrokenSheet."""
    try:
        value = float(attributes.get(name, default))
    except ValueError:
        raise BrokenSheet(f"{name} is no number") from None
    if not math.isfinite(value):
        raise BrokenSheet(f"{name} is no number")
    return value


def read_sheet(title: str, state: str, root: Element, texts: Sequence[str]) -> SheetView:
    """The view of a worksheet; of a sheet that is none, such as a page with one chart, nothing. Raises BrokenSheet."""
    view = SheetView(title, state)
    space = root.tag.removesuffix("worksheet")
    if space not in SPACES:
        return view
    tables = 0
    for child in root:
        name, table = local(child.tag), child.tag == space + "sheetData"
        if not table and any(part.tag in WRAPPED for part in child.iter() if part is not child):
            raise BrokenSheet(f"cells or settings of the sheet stand within {name}")
        if child.tag != space + name:
            if child.tag.removesuffix(name) in SPACES:
                raise BrokenSheet(f"{name} is of another kind of file")
            continue
        if (name in view.parts and name not in SEVERAL) or tables + table > 1:
            raise BrokenSheet(f"{name} is there twice")
        if table:
            tables += 1
            _read_lines(view, child, space, texts)
        elif name == "cols":
            view.columns += [column.attrib for column in child]
        else:
            view.parts.setdefault(name, []).append(child)
    return view


def _read_lines(view: SheetView, data: Element, space: str, texts: Sequence[str]) -> None:
    masters: dict[str, tuple[str, str]] = {}
    names = {space + name: name for name in ("f", "v", "is", "extLst")}
    line = 0
    seen: set[int] = set()
    for row in data:
        told = row.get("r")
        line = line + 1 if told is None else _line(told)
        if line in seen:
            raise BrokenSheet(f"line {line} is there twice")
        seen.add(line)
        if len(row.attrib) > 1:
            view.lines[line] = row.attrib
        ending, counted = str(line), False
        for column, cell in enumerate(row, start=1):
            if cell.tag != space + "c" or row.tag != space + "row":
                raise BrokenSheet(f"something that is no cell stands in line {line}")
            address = cell.get("r")
            if counted is not (address is None) and column > 1:
                raise BrokenSheet(f"some cells of line {line} have no address")
            if address is None:
                counted = True
                address = addresses.address(min(column, COLUMNS), line)
            letters = address.removesuffix(ending)
            if letters == address or not letters.isalpha() or not letters.isascii() or not letters.isupper():
                raise BrokenSheet(f"{address} is no cell of line {line}")
            if address in view.cells:
                view.twice.append(address)
            view.cells[address] = _cell(cell, address, names, texts, masters)


def _line(told: str) -> int:
    if not told.isascii() or not told.isdigit() or not 1 <= int(told) <= LINES:
        raise BrokenSheet(f"there is no line {told}")
    return int(told)


def _cell(
    cell: Element, address: str, names: Mapping[str, str], texts: Sequence[str], masters: dict[str, tuple[str, str]]
) -> Cell:
    formula, form, held, inline = None, "", None, None
    kind, there = cell.get("t", "n"), 0
    for child in cell:
        name = names.get(child.tag)
        if name is None or (len(child) and name in "fv"):
            raise BrokenSheet(f"something that is no value stands in {address}")
        if name == "v":
            held, there = child.text or "", there + 1
        elif name == "f":
            if formula is not None:
                raise BrokenSheet(f"{address} holds two formulas")
            formula, form = _formula(child, address, masters)
        elif name == "is":
            inline, there = rich_text(child), there + 1
    if there > 1 or (kind == "inlineStr") != (inline is not None):
        raise BrokenSheet(f"{address} holds two values, or none of its kind")
    style = cell.get("s", "0")
    if not style.isdigit() or not style.isascii():
        raise BrokenSheet(f"{address} has no usable style")
    return Cell(formula, form, inline or None if held is None else value_of(kind, held, texts, address), int(style))


def _formula(element: Element, address: str, masters: dict[str, tuple[str, str]]) -> tuple[str, str]:
    """The formula of a cell; one that is shared is told as it would stand in this cell."""
    form, text = element.get("t", "normal"), element.text or ""
    if form == "normal":
        return text, ""
    if form != "shared":
        return text, form
    name = element.get("si", "")
    if text:
        if name in masters:
            raise BrokenSheet(f"{address} shares a formula that was shared before")
        masters[name] = (text, address)
        return text, ""
    if name not in masters:
        return "", "shared"
    return moved(masters[name][0], masters[name][1], address), ""


@lru_cache(maxsize=1 << 16)  # of every file of an edition the same, but where it was changed
def moved(formula: str, origin: str, target: str) -> str:
    """A formula of one cell as it reads when filled into another."""
    if origin == target or not _MOVES.search(_STAYS.sub("", formula)):
        return formula
    try:
        return str(Translator("=" + formula, origin).translate_formula(target))[1:]
    except (TranslatorError, TokenizerError, ValueError, IndexError, AssertionError):
        return formula


def boxes(areas: str) -> Iterator[tuple[int, int, int, int]]:
    """The areas of a text such as "A1:B2 C3" as first column, first line, last column, last line. BrokenSheet."""
    for area in areas.split():
        try:
            yield addresses.box(area)
        except ValueError:
            raise BrokenSheet(f"{area[:40]} is no area") from None
