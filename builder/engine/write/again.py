"""A workbook is written again with other values: what values decide is made anew, all else stays as it was written.

Values decide the cells that are typed or computed, the texts that are typed, and what charts keep of cells. The file is
to the byte what write_workbook writes (tests/test_same_bytes.py), in a third of the time.
"""

from __future__ import annotations

import re
import tempfile
import zipfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from html import unescape
from io import StringIO
from pathlib import Path
from typing import Any, NamedTuple

from xlsxwriter.sharedstrings import SharedStrings

from builder.engine.addresses import address, apart, box
from builder.engine.kept import kept
from builder.engine.layout import Place
from builder.engine.model import Model
from builder.engine.spec.model import ErrorValue
from builder.engine.write.cells import BLANK, computed_cell, escaped, formula_cell, number_cell, text_cell, truth_cell
from builder.engine.write.explicit import ExplicitScatter
from builder.engine.write.put import write_value
from builder.engine.write.workbook import Fixed, write_workbook

SHEET, CHARTS, TEXTS = "xl/worksheets/sheet{}.xml", "xl/charts/", "xl/sharedStrings.xml"
_CELL = re.compile(r'(<c r="([A-Z]+\d+)"(?: s="\d+")?)(?:/>|[ >].*?</c>)', re.DOTALL)
_TEXT = re.compile(r"<si>.*?</si>", re.DOTALL)
_COUNTS = re.compile(r'count="\d+" uniqueCount="\d+"')
_KEPT = re.compile(r"<c:(xVal|yVal|cat|val)>.*?<c:f>(.*?)</c:f>(.*?)</c:\1>", re.DOTALL)
_POINT = re.compile(r'<c:pt idx="(\d+)"><c:v>(.*?)</c:v></c:pt>', re.DOTALL)
_OF_WORDS = {"xVal", "cat"}  # what may hold words; the other elements hold numbers


class Hole(NamedTuple):
    """A cell that values decide: how its element begins, and its formula as it stands between tags ("": typed)."""

    head: str
    place: Place
    formula: str


class Drawn(NamedTuple):
    """What a chart keeps of a range: the element, the range, and of each cell its place, or what a fixed one holds."""

    element: str
    range: str
    cells: tuple[Place | str | None, ...]


Pieces = tuple[str | Hole | Drawn, ...]


@dataclass(frozen=True, repr=False)
class Template:
    """A written workbook, cut where values stand: its entries in their order, each whole or in pieces."""

    entries: tuple[tuple[zipfile.ZipInfo, bytes | Pieces], ...]
    texts: Mapping[str, int]  # the elements of those nobody typed, and their numbers
    uses: int  # of these by cells
    inputs: tuple[Place, ...]

    def write(self, path: Path, values: Mapping[Place, Any], typed: Mapping[Place, Any]) -> None:
        """Writes `path`; values and typed cells as for write_workbook. Raises OSError."""
        made = _Elements(dict(self.texts), self.uses)
        for place in self.inputs:  # in this order typed texts get their numbers
            if isinstance(typed.get(place), str) and typed[place] and not isinstance(typed[place], ErrorValue):
                made.number(typed[place])
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for info, pieces in self.entries:  # the sheets come before the texts that they share
                if isinstance(pieces, bytes):
                    data = pieces
                elif info.filename == TEXTS:
                    data = made.shared(str(pieces[0])).encode()
                else:
                    data = "".join(_filled(pieces, made, values, typed)).encode()
                archive.writestr(_like(info), data)


@dataclass
class _Elements:
    """Gives each typed value its element, behind address and style, in the place of a sheet of the library."""

    texts: dict[str, int]
    uses: int
    library: Any = field(default_factory=SharedStrings)

    def write_blank(self, *_: Any) -> str:
        return BLANK

    def write_boolean(self, _line: int, _column: int, value: bool, _style: Any) -> str:
        return truth_cell(value)

    def write_formula(self, _line: int, _column: int, formula: str, _style: Any, value: Any) -> str:
        return formula_cell(formula.removeprefix("="), value)

    def write_number(self, _line: int, _column: int, value: float, _style: Any) -> str:
        return number_cell(value)

    def write_string(self, _line: int, _column: int, value: str, _style: Any) -> str:
        self.uses += 1
        return text_cell(self.number(value))

    def number(self, text: str) -> int:
        """The number of a text among those that cells share."""
        self.library.fh = StringIO()
        self.library._write_si(text)
        return self.texts.setdefault(self.library.fh.getvalue(), len(self.texts))

    def shared(self, head: str) -> str:
        """The part of the shared texts, from how it begins."""
        counted = _COUNTS.sub(f'count="{self.uses}" uniqueCount="{len(self.texts)}"', head, count=1)
        return f"{counted}{''.join(self.texts)}</sst>"


def write(model: Model, path: Path, values: Mapping[Place, Any], typed: Mapping[Place, Any]) -> None:
    """Writes `path` as write_workbook does: the first file of a model whole, each other like it. Raises OSError."""
    if model.templates:
        model.templates[0].write(path, values, typed)
    else:
        fixed = write_workbook(model, path, values, typed)
        model.templates.append(cut(model, path, fixed))


def take_kept(model: Model, write_first: Callable[[Path], object]) -> None:
    """Takes the template of this model as it is kept on disk; one that is not yet comes of a file written first."""

    def make() -> Template:
        with tempfile.TemporaryDirectory(prefix="first-") as folder:
            write_first(Path(folder) / "first.xlsx")
        return model.templates[0]

    name = f"template-{model.spec.name}-{model.spec.language}-{len(model.layout.slots)}"
    model.templates[:] = [kept(name, make)]


def cut(model: Model, path: Path, fixed: Fixed) -> Template:
    """The template that a written workbook of this model gives."""
    sheets = {model.spec.sheet_title(sheet.key): sheet.key for sheet in model.spec.sheets}
    of_part = {SHEET.format(number): key for number, key in enumerate(sheets.values(), start=1)}
    holes = {place: escaped(compiled.formula) for place, compiled in model.compiled.items()}
    inputs = tuple(slot.place for slot in model.layout.slots if slot.row.input is not None)
    holes |= dict.fromkeys(inputs, "")
    by_name = {(place.sheet, place.address): place for place in holes}
    entries: list[tuple[zipfile.ZipInfo, bytes | Pieces]] = []
    texts: list[str] = []
    with zipfile.ZipFile(path) as archive:
        for info in archive.infolist():
            data = archive.read(info)
            if info.filename in of_part:
                entries.append((info, tuple(_open_sheet(data.decode(), of_part[info.filename], by_name, holes))))
            elif info.filename == TEXTS:
                head, first, rest = data.decode().partition("<si>")
                texts = _TEXT.findall(first + rest)[: fixed.texts]
                entries.append((info, (head,)))
            elif info.filename.startswith(CHARTS):
                entries.append((info, tuple(_open_chart(data.decode(), sheets, by_name))))
            else:
                entries.append((info, data))
    return Template(tuple(entries), {text: number for number, text in enumerate(texts)}, fixed.uses, inputs)


def _open_sheet(
    text: str, sheet: str, by_name: Mapping[tuple[str, str], Place], formulas: Mapping[Place, str]
) -> Iterator[str | Hole]:
    """A sheet with a hole for each cell that values decide."""
    last = 0
    for cell in _CELL.finditer(text):
        place = by_name.get((sheet, cell[2]))
        if place is not None:
            yield text[last : cell.start()]
            yield Hole(cell[1], place, formulas[place])
            last = cell.end()
    yield text[last:]


def _open_chart(
    text: str, sheets: Mapping[str, str], by_name: Mapping[tuple[str, str], Place]
) -> Iterator[str | Drawn]:
    """A chart with what it keeps of cells taken out."""
    last = 0
    for held in _KEPT.finditer(text):
        element, cited, points = held.groups()
        title, area = apart(unescape(cited))
        left, top, right, bottom = box(area)
        names = [address(column, line) for line in range(top, bottom + 1) for column in range(left, right + 1)]
        fixed = {int(number): unescape(value) for number, value in _POINT.findall(points)}
        cells = tuple(by_name.get((sheets[title], name), fixed.get(at)) for at, name in enumerate(names))
        yield text[last : held.start()]
        yield Drawn(element, unescape(cited), cells)
        last = held.end()
    yield text[last:]


def _filled(pieces: Pieces, made: _Elements, values: Mapping[Place, Any], typed: Mapping[Place, Any]) -> Iterator[str]:
    """The pieces with what stands between them."""
    for piece in pieces:
        if isinstance(piece, str):
            yield piece
        elif isinstance(piece, Hole):
            yield piece.head
            if piece.formula:
                value = values[piece.place]
                yield computed_cell(piece.formula, "" if value is None else value)
            else:
                yield write_value(made, piece.place.line, piece.place.column, typed.get(piece.place), None)
        else:
            yield _drawn(piece, values, typed)


def _drawn(drawn: Drawn, values: Mapping[Place, Any], typed: Mapping[Place, Any]) -> str:
    """The element of a chart that keeps these cells, written by the library."""
    held = [_held(cell, values, typed) if isinstance(cell, Place) else cell for cell in drawn.cells]
    chart: Any = ExplicitScatter()
    chart.fh = StringIO()
    kind = chart._get_data_type(held) if drawn.element in _OF_WORDS else "num"
    if kind == "str":
        chart._write_str_ref(drawn.range, held, kind)
    else:
        chart._write_num_ref(drawn.range, held, kind)
    return f"<c:{drawn.element}>{chart.fh.getvalue()}</c:{drawn.element}>"


def _held(place: Place, values: Mapping[Place, Any], typed: Mapping[Place, Any]) -> Any:
    """What a chart keeps of a cell: an empty one as empty text."""
    value = values[place] if place in values else typed.get(place)
    return "" if value is None else value


def _like(info: zipfile.ZipInfo) -> zipfile.ZipInfo:
    """A new entry of an archive with the name, time and kind of another."""
    new = zipfile.ZipInfo(info.filename, info.date_time)
    new.compress_type, new.external_attr = info.compress_type, info.external_attr
    return new
