"""What LibreOffice prints of some sheets of a workbook: the words with their places, and the picture of each page.

Needs LibreOffice and PyMuPDF (a test dependency); nothing else needs either to verify a file.
"""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
from defusedxml.ElementTree import fromstring

from builder.engine.exchange.office import EngineMissing, convert
from builder.engine.exchange.untrusted import BOOK

DOTS_A_POINT = 1.0  # of the pictures
AREA = "_xlnm.Print_Area"
Words = tuple[tuple[str, float, float], ...]


@dataclass(frozen=True)
class Page:
    """A printed page: each word with the points of its left upper corner, and its picture in grey, dot by dot."""

    words: Words
    picture: Any


def printed(books: Sequence[Mapping[str, bytes]], titles: Collection[str]) -> list[list[Page]]:
    """The pages of these sheets in each workbook, given by its parts, as LibreOffice shows what is stored.

    Raises EngineMissing, EngineFailed.
    """
    pymupdf = _library()
    with tempfile.TemporaryDirectory(prefix="printed-") as name:
        files = [Path(name) / f"book{number}.xlsx" for number in range(len(books))]
        for parts, file in zip(books, files, strict=True):
            with zipfile.ZipFile(file, "w") as archive:
                for part, data in parts.items():
                    archive.writestr(part, only_sheets(data, titles) if part == BOOK else data)
        return [_pages(pymupdf, pdf) for pdf in convert(files, Path(name), "pdf", recalculate=False)]


def only_sheets(book: bytes, titles: Collection[str]) -> bytes:
    """The part of the workbook with all other sheets hidden, and their areas of print taken away."""
    root = fromstring(book)
    space = root.tag.partition("}")[0] + "}"
    sheets = root.findall(f"{space}sheets/{space}sheet")
    for sheet in sheets:
        sheet.set("state", "visible" if sheet.get("name") in titles else "hidden")
    shown = [number for number, sheet in enumerate(sheets) if sheet.get("name") in titles]
    for view in root.iter(f"{space}workbookView"):  # a hidden sheet cannot be the one in front
        view.attrib.pop("firstSheet", None)
        view.set("activeTab", str(shown[0] if shown else 0))
    for names in root.findall(f"{space}definedNames"):
        for one in list(names):
            if one.get("name") == AREA and int(one.get("localSheetId", -1)) not in shown:
                names.remove(one)
    return bytes(ElementTree.tostring(root, encoding="utf-8", xml_declaration=True))


def _library() -> Any:
    """Imported late because only this needs it."""
    try:
        import pymupdf
    except ImportError as error:
        raise EngineMissing("the Python package pymupdf is not installed; pip install pymupdf") from error
    return pymupdf


def _pages(pymupdf: Any, pdf: Path) -> list[Page]:
    found = []
    with pymupdf.open(pdf) as document:
        for page in document:
            dots = page.get_pixmap(matrix=pymupdf.Matrix(DOTS_A_POINT, DOTS_A_POINT), colorspace=pymupdf.csGRAY)
            picture = np.frombuffer(dots.samples, dtype=np.uint8).reshape(dots.height, dots.stride)[:, : dots.width]
            words = tuple((word[4], word[0], word[1]) for word in page.get_text("words"))
            found.append(Page(words, picture))
    return found
