"""A workbook whose structure is locked, whose language is set and whose bytes do not depend on the clock."""

from __future__ import annotations

import datetime
import warnings
from pathlib import Path
from typing import Any

import xlsxwriter
from xlsxwriter.core import Core
from xlsxwriter.packager import Packager
from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

CREATED = datetime.datetime(2000, 1, 1)


class PlainWorksheet(Worksheet):
    """xlsxwriter's worksheet without its search of each formula for functions newer than 2007: the dialect has none."""

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        del expand_future_functions
        return formula.removeprefix("=")


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
    language = "en"

    def _get_packager(self) -> Packager:
        return PackagerWithLanguage()

    def _write_book_views(self) -> None:
        self._xml_empty_tag("workbookProtection", [("lockStructure", 1)])
        super()._write_book_views()


def open_book(path: Path, title: str, subject: str) -> Any:
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
    book.set_properties({"title": title, "subject": subject, "author": "", "created": CREATED})
    book.set_calc_mode("auto")
    return book


LIBRARY = f"xlsxwriter {xlsxwriter.__version__}"


def column_letter(column: int) -> str:
    """The letters of a zero-based column."""
    return str(xl_col_to_name(column))
