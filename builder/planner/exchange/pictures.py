"""The pictures of the README: printed sheets of the demo cases, and sheets as a window shows them on a clinic's screen.

Needs LibreOffice with its window, a virtual screen and PyMuPDF (a test dependency); the builder itself needs none.
"""

from __future__ import annotations

import shutil
import tempfile
import tomllib
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from builder.engine.exchange.fill import fill_many
from builder.engine.exchange.office import EngineMissing, convert
from builder.engine.exchange.printed import only_sheets as only_sheets_of
from builder.engine.exchange.untrusted import BOOK
from builder.engine.exchange.window import missing, window
from builder.engine.layout import Place
from builder.engine.model import Model
from builder.engine.same import sheet_titles
from builder.planner.exchange.casefile import typed_cells

DOTS_AN_INCH = 90
PLAN_DEMO = "planning-workbook-demo.xlsx"
REGISTER_DEMO = "outcome-register-demo.xlsx"


@dataclass(frozen=True)
class Picture:
    """A page to show: name of the file, case, title of its sheet, which of its pages, and what is typed otherwise.

    Without a case it is a page of the simulated register.
    """

    name: str
    case: str
    sheet: str
    page: int = 0
    other: dict[str, Any] = field(default_factory=dict)


PICTURES = (
    Picture("theatre-right-from-head", "1-cone-both-eyes", "Theatre right"),
    Picture("register-pictures", "", "Pictures"),
)
SCREENS = ("start", "decision", "pictures")  # sheets shown as a window of 1366 x 768 points shows them
# Of the screen: from the heads of the columns to the tabs, without the program's own tools.
SHEET = (slice(164, 746), slice(0, 1308))


def _typed(model: Model, path: Path, other: dict[str, Any]) -> dict[Place, Any]:
    case = tomllib.loads(path.read_text(encoding="utf-8"))
    case["plan"] |= other
    return typed_cells(model, case, path.name)


def only_sheets(file: Path, start: str, letter: bool = False) -> None:
    """Changes a workbook so that only sheets whose title begins with `start` print, on A4 or on Letter."""
    with zipfile.ZipFile(file) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    titles = [title for title in sheet_titles({BOOK: parts[BOOK].decode()}).values() if title.startswith(start)]
    parts[BOOK] = only_sheets_of(parts[BOOK], titles)
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data.replace(b'paperSize="9"', b'paperSize="1"') if letter else data)


def write_pictures(model: Model, cases: Path, target: Path, pictures: Sequence[Picture] = PICTURES) -> list[Path]:
    """The pictures as PNG files in `target`; raises EngineMissing without LibreOffice, before anything is written."""
    import pymupdf  # here, so that the other commands do without it

    made = []
    with tempfile.TemporaryDirectory() as name:
        files = [Path(name) / f"{picture.name}.xlsx" for picture in pictures]
        jobs = []
        for picture, file in zip(pictures, files, strict=True):
            if picture.case:
                jobs.append((_typed(model, cases / f"{picture.case}.toml", picture.other), file))
            else:
                shutil.copyfile(target / REGISTER_DEMO, file)
        fill_many(model, jobs)
        for picture, file in zip(pictures, files, strict=True):
            only_sheets(file, picture.sheet)
        for picture, pdf in zip(pictures, convert(files, Path(name), "pdf", recalculate=False), strict=True):
            pages = [page for page in pymupdf.open(pdf) if f"\n {picture.sheet}\n" in page.get_text()[:80]]
            path = target / f"{picture.name}.png"
            pages[picture.page].get_pixmap(dpi=DOTS_AN_INCH, colorspace=pymupdf.csGRAY).save(path)
            made.append(path)
    return made


def write_screens(model: Model, demo: Path, target: Path, sheets: Sequence[str] = SCREENS) -> list[Path]:
    """Sheets of a workbook as a window shows them, without scrolling, as PNG files; raises EngineMissing."""
    reason = missing()
    if reason:
        raise EngineMissing(f"The pictures of the screen were not taken: {reason}")
    made = []
    with tempfile.TemporaryDirectory() as name:
        file = Path(name) / demo.name
        shutil.copyfile(demo, file)
        with window(file, Path(name)) as opened:
            opened.put_pointer_away()
            for key in sheets:
                opened.go_to(f"$'{model.spec.sheet_title(key)}'.A1")
                opened.settled()
                made.append(target / f"screen-{key}.png")
                opened.picture(made[-1], *SHEET)
    return made
