"""A workbook whose structure is locked, whose language is set and whose bytes do not depend on the clock."""

from __future__ import annotations

import datetime
import warnings
from pathlib import Path
from typing import Any

import xlsxwriter
from xlsxwriter.core import Core
from xlsxwriter.drawing import Drawing
from xlsxwriter.packager import Packager
from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

EMU_A_PIXEL = 9525
CREATED = datetime.datetime(2000, 1, 1)


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
    """xlsxwriter's worksheet without its search of each formula for functions newer than 2007: the dialect has none."""

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        del expand_future_functions
        return formula.removeprefix("=")

    def _prepare_chart(self, *place: int) -> None:
        super()._prepare_chart(*place)
        self.drawing.__class__ = SquareDrawing


class CoreWithLanguage(Core):
    """The document's properties with the language of its words, by which screen readers choose a voice."""

    def _write_cp_category(self) -> None:
        super()._write_cp_category()
        self._xml_data_element("dc:language", self.properties["language"])


class PackagerWithLanguage(Packager):
    """xlsxwriter's packager, which knows no language."""

    def _write_core_file(self) -> None:
        core = CoreWithLanguage()
        core._set_properties({**self.workbook.doc_properties, "language": self.workbook.language})
        core._set_xml_writer(self._filename("docProps/core.xml"))
        core._assemble_xml_file()


class LockedWorkbook(Workbook):
    """xlsxwriter's workbook with structure protection and a language, which it does not offer itself."""

    worksheet_class = PlainWorksheet
    language = ""

    def _get_packager(self) -> Packager:
        return PackagerWithLanguage()

    def _write_book_views(self) -> None:
        self._xml_empty_tag("workbookProtection", [("lockStructure", 1)])
        super()._write_book_views()


def open_book(path: Path, language: str, title: str, subject: str) -> Any:
    """A new workbook at `path`; any warning of the library while it is written is an error."""
    warnings.simplefilter("error", UserWarning)
    book = LockedWorkbook(
        str(path),
        {
            "default_format_properties": {"font_name": "Arial", "font_size": 10},
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
        },
    )
    book.language = language
    book.set_properties({"title": title, "subject": subject, "author": "", "created": CREATED})
    book.set_calc_mode("auto")
    return book


LIBRARY = f"xlsxwriter {xlsxwriter.__version__}"


def column_letter(column: int) -> str:
    """The letters of a zero-based column."""
    return str(xl_col_to_name(column))
