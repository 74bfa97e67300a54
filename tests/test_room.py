"""No word is cut: every text of every case fits the room that it has on its sheet, in each language.

Widths are those of Helvetica, which Arial and Liberation Sans share (Adobe's core font metrics).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from functools import cache
from itertools import product
from typing import Any

import openpyxl
import pymupdf
import pytest

from builder.engine.model import Model, load_model
from builder.engine.spec.reading import SPECS
from builder.engine.spec.words import languages
from builder.planner.books import PLAN, REGISTER
from builder.planner.exchange.casefile import read_case
from builder.planner.exchange.register import register_cells
from builder.planner.simulation.register import simulated_lines
from tests.support.filled import fill
from tests.support.workbooks import Typed, at, case_files, expected

PIXEL = 0.75  # points
LINE = 1.15  # height of a line of type, in its size
INDENT = 9 * PIXEL  # three spaces of the plain type (ECMA-376, part 1, 18.8.1)
SMALLEST = 0.75  # of its size, to which a text may shrink in its column
LINES = 12  # of a short register
EMU = 12700  # of a point
Sheet = tuple[Any, list[float], set[tuple[int, int]]]  # the sheet, its columns in points, its fixed texts
Box = tuple[float, float, float, float]  # left, right, top, bottom, in points of the sheet
OVERLAP = 2.0  # points: programs round the edges of pictures


def _width(text: str, cell: Any) -> float:
    """Points that a text takes in one line."""
    return _measured(text, bool(cell.font.b), float(cell.font.sz))


@cache  # most texts of a case are those of the others
def _measured(text: str, bold: bool, size: float) -> float:
    return float(pymupdf.get_text_length(text, fontname="hebo" if bold else "helv", fontsize=size))


def _columns(sheet: Any, count: int) -> list[float]:
    """Points of each column: seven pixels a digit and five beside (ECMA-376, part 1, 18.3.1.13)."""
    sizes = sheet.column_dimensions
    widths = dict.fromkeys(range(1, count + 1), 8.43)
    for size in sizes.values():
        widths |= {column: size.width for column in range(size.min, min(size.max, count) + 1)}
    return [int(widths[column] * 7 + 5) * PIXEL for column in range(1, count + 1)]


@pytest.fixture(scope="module", params=list(product((PLAN, REGISTER), languages(SPECS))), ids="-".join)
def written(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Model, dict[str, Sheet]]:
    """Each blank workbook in each language: what stands where, and how wide."""
    name, language = request.param
    model = load_model(name, language, lines=LINES if name == REGISTER else None)
    path = tmp_path_factory.mktemp("room") / "blank.xlsx"
    fill(model, {}, path)
    book = openpyxl.load_workbook(path)
    sheets: dict[str, Sheet] = {}
    for spec in model.spec.sheets:
        sheet = book[model.spec.sheet_title(spec.key)]
        fixed = {
            (cell.row, cell.column)
            for line in sheet.iter_rows()
            for cell in line
            if isinstance(cell.value, str) and not cell.value.startswith("=")
        }
        sheets[sheet.title] = sheet, _columns(sheet, len(spec.columns)), fixed
    return model, sheets


def _lines(text: str, cell: Any, room: float) -> int:
    """Lines that a wrapped text takes."""
    lines, line = 1, ""
    for word in text.split():
        if line and _width(f"{line} {word}", cell) > room:
            lines, line = lines + 1, word
        else:
            line = f"{line} {word}".strip()
    return lines


def cut(cell: Any, text: str, columns: list[float], filled: set[tuple[int, int]]) -> bool:
    """Whether a text is too high for its wrapped cell, or runs into a filled cell or over the edge of its sheet."""
    own = columns[cell.column - 1]
    if cell.alignment.wrap_text:
        height = cell.parent.row_dimensions[cell.row].height or 15
        return _lines(text, cell, own - 2 - INDENT * cell.alignment.indent) * cell.font.sz * LINE > height + 1
    if cell.alignment.shrink_to_fit:
        return _width(text, cell) * SMALLEST > own
    towards = -1 if cell.alignment.horizontal == "right" else 1
    room, column = own, cell.column + towards
    while 1 <= column <= len(columns) and (cell.row, column) not in filled:
        room, column = room + columns[column - 1], column + towards
    return _width(text, cell) > room


def _heights(sheet: Any, line: int) -> float:
    """Points from the top of the sheet to the end of a line (0: to its beginning)."""
    return sum(sheet.row_dimensions[row].height or 15 for row in range(1, line + 1))


def pictures(sheet: Any, columns: list[float]) -> list[Box]:
    """Where the pictures of a sheet lie: between two corners, or from one with a size."""
    boxes = []
    for chart in sheet._charts:
        start, end = chart.anchor._from, getattr(chart.anchor, "to", None)
        left = sum(columns[: start.col]) + start.colOff / EMU
        top = _heights(sheet, start.row) + start.rowOff / EMU
        if end is None:
            right, bottom = left + chart.anchor.ext.width / EMU, top + chart.anchor.ext.height / EMU
        else:
            right = sum(columns[: end.col]) + end.colOff / EMU
            bottom = _heights(sheet, end.row) + end.rowOff / EMU
        boxes.append((left, right, top, bottom))
    return boxes


def covered(cell: Any, text: str, columns: list[float], boxes: list[Box]) -> bool:
    """Whether a picture lies upon a part of a text."""
    if not boxes:
        return False
    edges = sum(columns[: cell.column - 1]), sum(columns[: cell.column])
    width = edges[1] - edges[0] if cell.alignment.wrap_text else _width(text, cell)
    right = cell.alignment.horizontal in ("right", "center") or cell.alignment.wrap_text
    left, end = (edges[1] - width, edges[1]) if right else (edges[0], edges[0] + width)
    bottom = _heights(cell.parent, cell.row)
    top = bottom - (cell.parent.row_dimensions[cell.row].height or 15)
    return any(
        min(end, box[1]) - max(left, box[0]) > OVERLAP and min(bottom, box[3]) - max(top, box[2]) > OVERLAP
        for box in boxes
    )


def _found(model: Model, sheets: Mapping[str, Sheet], cells: Mapping[Any, Any], name: str) -> Iterator[tuple[str, str]]:
    filled: dict[str, set[tuple[int, int]]] = defaultdict(set)
    for place, value in cells.items():
        if value not in (None, ""):
            filled[at(model, place)[0]].add((place.line + 1, place.column + 1))
    drawn = {title: pictures(sheet, columns) for title, (sheet, columns, _) in sheets.items()}
    for place, value in cells.items():
        title = at(model, place)[0]
        sheet, columns, fixed = sheets[title]
        if isinstance(value, str) and value and place in model.compiled:
            cell = sheet.cell(place.line + 1, place.column + 1)
            hidden = covered(cell, value, columns, drawn[title])
            if hidden or cut(cell, value, columns, fixed | filled[title]):
                yield model.compiled[place].slot.row.key, f"{title} {place.address}, case {name}: {value}"


def _cases(model: Model) -> Iterator[tuple[str, Typed]]:
    """All case files, or the first simulated eyes."""
    if model.spec.name == PLAN:
        yield from ((name, read_case(model, path)) for name, path in case_files().items())
    else:
        lines = simulated_lines(load_model(PLAN, model.spec.language))[:LINES]
        yield "simulated", register_cells(model, lines, model.spec.words.get("text", "simulated_register"))


def test_no_text_is_cut(written: tuple[Model, dict[str, Sheet]]) -> None:
    """Of all cases, blank too: one example is told of each row."""
    model, sheets = written
    typed = {"blank": {}} | dict(_cases(model))
    found: dict[str, str] = {}
    for name, results in zip(typed, expected(model, list(typed.values())), strict=True):
        found |= {
            key: told for key, told in _found(model, sheets, {**results, **typed[name]}, name) if key not in found
        }
    assert not found, f"{len(found)} rows\n" + "\n".join(f"{key}: {told}" for key, told in found.items())


def test_the_search_can_fail(written: tuple[Model, dict[str, Sheet]]) -> None:
    """A sentence three times as long does not fit the first sheet."""
    model, sheets = written
    place = model.layout.cells("plan", "start_type_next" if model.spec.name == PLAN else "type_next")["", "plan"].place
    sheet, columns, fixed = sheets[at(model, place)[0]]
    cell = sheet.cell(place.line + 1, place.column + 1)
    text = model.spec.words.get("word", "next_first_eye")
    assert not cut(cell, text, columns, fixed)
    assert cut(cell, text * 3, columns, fixed)


def test_no_picture_lies_upon_a_fixed_text(written: tuple[Model, dict[str, Sheet]]) -> None:
    """Labels, heads and notes too."""
    found = [
        f"{title} {cell.coordinate}: {cell.value}"
        for title, (sheet, columns, fixed) in written[1].items()
        if sheet._charts
        for cell in (sheet.cell(*place) for place in fixed)
        if covered(cell, cell.value, columns, pictures(sheet, columns))
    ]
    assert not found


def test_the_search_for_covered_texts_can_fail(written: tuple[Model, dict[str, Sheet]]) -> None:
    """In the line of a picture a short text stands beside it, a long one runs under it; above it both are free."""
    tried = 0
    for sheet, columns, _ in written[1].values():
        for box in pictures(sheet, columns):
            line = next(row for row in range(1, 500) if _heights(sheet, row) > box[2] + OVERLAP)
            column = next(n for n in range(1, len(columns) + 1) if sum(columns[:n]) > box[0] + OVERLAP)
            inside, above = sheet.cell(line, column), sheet.cell(3, column)
            assert covered(inside, "a long text " * 20, columns, [box])
            assert not covered(above, "a long text " * 20, columns, [box])
            if box[0] > columns[0] and not sheet.cell(line, 1).alignment.wrap_text:
                assert not covered(sheet.cell(line, 1), "a", columns, [box])
                assert covered(sheet.cell(line, 1), "a long text " * 20, columns, [box])
                tried += 1
    assert tried


def test_every_picture_stands_within_its_sheet(written: tuple[Model, dict[str, Sheet]]) -> None:
    """What lies beyond the last column is not printed."""
    edges = [
        (title, box[1] + (end is not None and end.col > len(columns)) * sum(columns), sum(columns))
        for title, (sheet, columns, _) in written[1].items()
        for box, end in zip(
            pictures(sheet, columns), (getattr(chart.anchor, "to", None) for chart in sheet._charts), strict=True
        )
    ]
    assert edges
    assert not [edge for edge in edges if edge[1] > edge[2] + 1]
