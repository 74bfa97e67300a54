"""Worksheets whose cells are written in one step each; half of a build went through the library's general way.

The dialect has no function newer than 2007 and no array formula, so no formula is searched for one, and every cell has
a format. A formula that gives empty text says so by its type (`t="str"`), as the format has it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from xlsxwriter.drawing import Drawing
from xlsxwriter.worksheet import CellFormulaTuple, Worksheet

from builder.engine.addresses import letters

EMU_A_PIXEL = 9525
BLANK = "/>"  # the element of an empty cell, behind address and style
ERRORS = ("#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!")


class SquareDrawing(Drawing):
    """xlsxwriter's drawing, but each chart has one anchor and its own size, so that no program stretches it."""

    def _write_two_cell_anchor(self, index: int, drawing: Any) -> None:
        column, line, column_offset, line_offset = drawing._dimensions[:4]
        self._xml_start_tag("xdr:oneCellAnchor")
        self._write_from(column, line, column_offset, line_offset)
        self._xml_empty_tag("xdr:ext", [("cx", drawing._width * EMU_A_PIXEL), ("cy", drawing._height * EMU_A_PIXEL)])
        self._write_graphic_frame(index, drawing)
        self._write_client_data()
        self._xml_end_tag("xdr:oneCellAnchor")


class PlainWorksheet(Worksheet):
    """xlsxwriter's worksheet with its own way to keep a formula and to write a line."""

    def write_formula(self, row: int, col: int, formula: str, cell_format: Any = None, value: Any = "") -> int:
        """Keeps a formula with its result; 0, or -1 for a cell beyond the sheet."""
        if self._check_dimensions(row, col):
            return -1
        self.table[row][col] = CellFormulaTuple(self._prepare_formula(formula), cell_format, value)
        return 0

    def write_string(self, row: int, col: int, string: str, cell_format: Any = None) -> int:
        """As the library's, which first asks each time whether `row` is an address in letters."""
        return int(self._write_string(row, col, string, cell_format))

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        del expand_future_functions
        return formula.removeprefix("=")

    def _write_rows(self) -> None:
        self._calculate_spans()
        names = [letters(column) for column in range(1, self.dim_colmax + 2)]
        for row in range(self.dim_rowmin, self.dim_rowmax + 1):
            cells, info = self.table.get(row), self.row_info.get(row)
            if cells:
                self._write_row(row, self.row_spans.get(row // 16), info)
                self.fh.write("".join(self._cells(cells, names, str(row + 1))))
                self._xml_end_tag("row")
            elif info:
                self._write_empty_row(row, self.row_spans.get(row // 16), info)

    def _cells(self, cells: Mapping[int, Any], letters: list[str], line: str) -> list[str]:
        """The elements of a line's cells, from left to right."""
        found = []
        for column in sorted(cells):
            cell = cells[column]
            style = cell.format._get_xf_index() if cell.format else 0
            head = f'<c r="{letters[column]}{line}"' + (f' s="{style}"' if style else "")
            kind = cell.__class__.__name__
            if kind == "Formula":
                found.append(head + formula_cell(cell.formula, cell.value))
            elif kind == "String":
                found.append(head + text_cell(cell.string))
            elif kind == "Number":
                found.append(head + number_cell(cell.number))
            elif kind == "Blank":
                found.append(head + BLANK)
            elif kind == "Boolean":
                found.append(head + truth_cell(cell.boolean))
            else:
                raise TypeError(f"a cell of the kind {kind} is not written here")
        return found

    def _prepare_chart(self, *place: int) -> None:
        super()._prepare_chart(*place)
        self.drawing.__class__ = SquareDrawing


def formula_cell(formula: str, value: Any) -> str:
    """The element of a formula with its result, behind address and style."""
    return computed_cell(escaped(formula), value)


def computed_cell(formula: str, value: Any) -> str:
    """As formula_cell, of a formula as it stands between tags."""
    if not isinstance(value, str):
        return f"><f>{formula}</f><v>{value}</v></c>"
    return f' t="{"e" if value in ERRORS else "str"}"><f>{formula}</f><v>{escaped(value)}</v></c>'


def text_cell(number: int) -> str:
    """The element of a text, by its number among the shared ones, behind address and style."""
    return f' t="s"><v>{number}</v></c>'


def number_cell(value: float) -> str:
    """The element of a number, behind address and style."""
    return f"><v>{value:.16G}</v></c>"


def truth_cell(value: bool) -> str:
    """The element of a truth value, behind address and style."""
    return f' t="b"><v>{int(value)}</v></c>'


def escaped(text: str) -> str:
    """A text as it stands between tags."""
    if "&" in text:
        text = text.replace("&", "&amp;")
    if "<" in text:
        text = text.replace("<", "&lt;")
    return text.replace(">", "&gt;") if ">" in text else text
