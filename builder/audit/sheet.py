"""What stands on one worksheet of a file, read from its XML as it is: nothing computed, nothing followed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple
from xml.etree.ElementTree import Element

from openpyxl.formula.tokenizer import TokenizerError
from openpyxl.formula.translate import Translator, TranslatorError
from openpyxl.utils import column_index_from_string, get_column_letter
from openpyxl.utils.cell import coordinate_from_string
from openpyxl.utils.exceptions import CellCoordinatesException

from builder.spec.model import ErrorValue

LINES, COLUMNS = 1_048_576, 16_384


class BrokenSheet(ValueError):
    """A worksheet that no spreadsheet program would have written."""


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

    def part(self, name: str) -> Mapping[str, str]:
        """The attributes of the first element of a name; none if it is not there."""
        return self.parts[name][0].attrib if name in self.parts else {}


def local(tag: str) -> str:
    """A tag without its namespace."""
    return tag.rpartition("}")[2]


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
    """The view of a worksheet. Raises BrokenSheet."""
    view = SheetView(title, state)
    for child in root:
        name = local(child.tag)
        if name == "sheetData":
            _read_lines(view, child, texts)
        elif name == "cols":
            view.columns += [column.attrib for column in child]
        else:
            view.parts.setdefault(name, []).append(child)
    return view


def _read_lines(view: SheetView, data: Element, texts: Sequence[str]) -> None:
    masters: dict[str, tuple[str, str]] = {}
    line, seen = 0, set()
    for row in data:
        told = row.get("r")
        line = line + 1 if told is None else _line(told)
        if line in seen:
            raise BrokenSheet(f"line {line} is there twice")
        seen.add(line)
        if len(row.attrib) > 1:
            view.lines[line] = row.attrib
        ending, column = str(line), 0
        for cell in row:
            address = cell.get("r")
            if address is None:
                address = f"{get_column_letter(min(column + 1, COLUMNS))}{line}"
            letters = address.removesuffix(ending)
            if letters == address or not letters.isalpha() or not letters.isascii() or not letters.isupper():
                raise BrokenSheet(f"{address} is no cell of line {line}")
            if cell.get("r") is None:
                column = column_index_from_string(letters)
            if address in view.cells:
                view.twice.append(address)
            view.cells[address] = _cell(cell, address, texts, masters)


def _line(told: str) -> int:
    if not told.isascii() or not told.isdigit() or not 1 <= int(told) <= LINES:
        raise BrokenSheet(f"there is no line {told}")
    return int(told)


def _cell(cell: Element, address: str, texts: Sequence[str], masters: dict[str, tuple[str, str]]) -> Cell:
    formula, form, held = None, "", None
    kind = cell.get("t", "n")
    for child in cell:
        name = local(child.tag)
        if name == "v":
            held = child.text
        elif name == "f":
            formula, form = _formula(child, address, masters)
        elif name == "is":
            held, kind = rich_text(child), "str"
    style = cell.get("s", "0")
    if not style.isdigit() or not style.isascii():
        raise BrokenSheet(f"{address} has no usable style")
    return Cell(formula, form, _value(kind, held, texts, address), int(style))


def _formula(element: Element, address: str, masters: dict[str, tuple[str, str]]) -> tuple[str, str]:
    """The formula of a cell; one that is shared is told as it would stand in this cell."""
    form, text = element.get("t", "normal"), element.text or ""
    if form == "normal":
        return text, ""
    if form != "shared":
        return text, form
    name = element.get("si", "")
    if text:
        masters[name] = (text, address)
        return text, ""
    if name not in masters:
        return "", "shared"
    return moved(masters[name][0], masters[name][1], address), ""


def moved(formula: str, origin: str, target: str) -> str:
    """A formula of one cell as it reads when filled into another."""
    if origin == target:
        return formula
    try:
        return str(Translator("=" + formula, origin).translate_formula(target))[1:]
    except (TranslatorError, TokenizerError, ValueError, IndexError, AssertionError):
        return formula


def _value(kind: str, held: str | None, texts: Sequence[str], address: str) -> Any:
    """A stored value: float, text, ErrorValue, True or False; None for empty."""
    if held is None or held == "":
        return None
    if kind == "s":
        if not held.strip().isdigit() or int(held) >= len(texts):
            raise BrokenSheet(f"{address} names a text that is not there")
        return texts[int(held)] or None
    if kind == "n":
        try:
            value = float(held)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise BrokenSheet(f"{address} holds no number")
        return value
    if kind == "b":
        return held.strip() in ("1", "true")
    return ErrorValue(held) if kind == "e" else held


def rich_text(element: Element) -> str:
    """The letters of a text, without its looks and without the reading aids that some languages have."""
    found = []
    for child in element:
        name = local(child.tag)
        if name == "t":
            found.append(child.text or "")
        elif name == "r":
            found += [part.text or "" for part in child if local(part.tag) == "t"]
    return "".join(found)


def boxes(areas: str) -> Iterator[tuple[int, int, int, int]]:
    """The areas of a text such as "A1:B2 C3" as first column, first line, last column, last line. BrokenSheet."""
    for area in areas.split():
        first, _, last = area.partition(":")
        try:
            (left, top), (right, bottom) = (coordinate_from_string(end) for end in (first, last or first))
            yield column_index_from_string(left), top, column_index_from_string(right), bottom
        except (CellCoordinatesException, ValueError):
            raise BrokenSheet(f"{area[:40]} is no area") from None
