"""A workbook whose structure is locked, that says its language and its writer, and whose bytes know no clock."""

from __future__ import annotations

import datetime
import re
import warnings
from pathlib import Path
from typing import Any

import xlsxwriter
from xlsxwriter.core import Core
from xlsxwriter.packager import Packager
from xlsxwriter.workbook import Workbook

from builder.engine.version import VERSION, WRITER
from builder.engine.write.cells import PlainWorksheet
from builder.engine.write.explicit import EXPLICIT

CREATED = datetime.datetime(2000, 1, 1)


class CoreWithLanguage(Core):
    """The document's properties with the language of its words, by which screen readers choose a voice."""

    def _write_cp_category(self) -> None:
        super()._write_cp_category()
        self._xml_data_element("dc:language", self.properties["language"])


class OwnPackager(Packager):
    """xlsxwriter's packager, which knows no language and names another program as the writer."""

    def _write_core_file(self) -> None:
        core = CoreWithLanguage()
        core._set_properties({**self.workbook.doc_properties, "language": self.workbook.language})
        core._set_xml_writer(self._filename("docProps/core.xml"))
        core._assemble_xml_file()

    def _write_app_file(self) -> None:
        super()._write_app_file()
        file = Path(self.filenames[-1][0])
        text = file.read_text(encoding="utf-8")
        for element, value in (("Application", WRITER), ("AppVersion", written_version(VERSION))):
            text = re.sub(f"(<{element}>)[^<]*", rf"\g<1>{value}", text)
        file.write_text(text, encoding="utf-8")


def written_version(version: str) -> str:
    """A version of three numbers as this entry of the format has it: two numbers, the second of four digits."""
    major, minor, patch = map(int, version.split("."))
    return f"{major}.{minor:02}{patch:02}"


class LockedWorkbook(Workbook):
    """xlsxwriter's workbook with structure protection and a language, which it does not offer itself."""

    worksheet_class = PlainWorksheet
    language = ""

    def _get_packager(self) -> Packager:
        return OwnPackager()

    def add_chart(self, options: dict[str, Any]) -> Any:
        """A chart of the library that says its defaults too."""
        chart = super().add_chart(options)
        chart.__class__ = EXPLICIT[type(chart)]
        return chart

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
