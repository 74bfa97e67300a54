"""The last witness of `verify`: printed pages of a returned file and of one filled afresh."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np

from builder.engine.audit.seen import compare_seen, compare_words, other_dots, printed_sheets
from builder.engine.audit.verify import CHANGED, CLEAN, verify
from builder.engine.exchange.office import convert
from builder.engine.exchange.printed import only_sheets
from builder.engine.exchange.untrusted import open_untrusted
from builder.engine.model import Model, load_model
from builder.planner.books import REGISTER
from builder.planner.exchange.register import fill_register
from tests.support.deceits_seen import SEEN
from tests.support.filled import fill
from tests.support.hostile import pack, parts_of
from tests.support.plants import Copy
from tests.support.register_lines import invented_lines
from tests.support.workbooks import typed_case

WORDS = (("POWER", 50.0, 40.0), ("8.50", 100.0, 40.0), ("113", 100.0, 80.0))


def test_words_are_compared_with_their_places() -> None:
    """Another word, a missing one, one elsewhere; a little nearer and a decimal comma are none of these."""
    assert compare_words(WORDS, WORDS) == ([], [], [])
    near = (("POWER", 50.2, 40.1), ("8,50", 100.0, 41.0), ("113", 100.0, 80.0))
    assert compare_words(WORDS, near) == ([], [], [])
    assert compare_words(WORDS, (*WORDS[:1], ("25.50", 100.0, 40.0), WORDS[2])) == (["8.50"], ["25.50"], [])
    assert compare_words(WORDS, WORDS[1:]) == (["POWER"], [], [])
    assert compare_words(WORDS, (*WORDS[:2], ("113", 104.0, 80.0))) == ([], [], ["113"])


def test_pictures_are_compared_dot_by_dot() -> None:
    """A line a dot aside is the same; a line that is turned is not, and where it is, is told."""
    page = np.full((100, 80), 255, dtype=np.uint8)
    one, aside, turned = page.copy(), page.copy(), page.copy()
    one[20:60, 40] = aside[20:60, 41] = 0
    turned[40, 20:60] = 0
    assert other_dots(one, one) is other_dots(one, aside) is None
    assert other_dots(one, turned) is not None
    assert other_dots(one, page) == (40, 39.5)
    assert other_dots(one, page[:90]) is not None
    speckled = one.copy()
    speckled[4::9, 4:30:9] = 0
    assert other_dots(one, speckled) is None, "single dots, as at the edges of small type"
    marked = one.copy()
    marked[80:84, 10:14] = 0
    assert other_dots(one, marked) == (11.5, 81.5)


def test_only_the_sheets_that_are_compared_print(model: Model) -> None:
    """Of a plan the pages that are handed out, of a register what one looks at."""
    assert printed_sheets(model) == ["Patient right", "Patient left", "Theatre right", "Theatre left"]
    assert "Pictures" in printed_sheets(load_model(REGISTER, lines=12))
    book = (
        b'<workbook xmlns="urn:x"><sheets><sheet name="One" state="visible"/><sheet name="Two"/></sheets><definedNames>'
        b'<definedName name="_xlnm.Print_Area" localSheetId="0">One!A1</definedName></definedNames></workbook>'
    )
    changed = only_sheets(book, ["Two"]).decode()
    assert changed.count('state="hidden"') == changed.count('state="visible"') == 1
    assert "Print_Area" not in changed


def test_a_register_that_shows_something_else_is_told(libreoffice: str, tmp_path: Path) -> None:
    """A register as LibreOffice saves it is clean; the dots of one of its charts made invisible are told."""
    del libreoffice
    model = load_model(REGISTER, lines=12)
    good = tmp_path / "register.xlsx"
    fill_register(model, invented_lines(12, seed=3), good, "Invented eyes")
    (saved,) = convert([good], tmp_path)
    built, now = open_untrusted(good), open_untrusted(saved)
    chart = "xl/charts/chart1.xml"
    hidden = re.sub(rb"(?<=<c:marker>).*?(?=</c:marker>)", b'<c:symbol val="none"/>', built.parts[chart])
    assert hidden != built.parts[chart]
    assert not list(compare_seen(now, lines=12))
    told = compare_seen(replace(built, parts={**built.parts, chart: hidden}), lines=12)
    assert [(found.kind, "Pictures" in found.sheet) for found in told] == [("seen_picture", True)]


def test_a_page_that_shows_something_else_is_told(model: Model, libreoffice: str, tmp_path: Path) -> None:
    """Marks of the right eye's dial made invisible: the pages tell it, of that eye alone."""
    del libreoffice
    good = tmp_path / "good.xlsx"
    fill(model, typed_case("ready"), good)
    copy = Copy(model, parts_of(good))
    SEEN["marks made invisible"][1](copy)
    report = verify(pack(copy.parts, tmp_path / "sent.xlsx"), seen=True)
    assert report.verdict == CHANGED
    assert verify(good).verdict == CLEAN
    told = {(f.kind, f.sheet) for f in report.findings if f.kind.startswith("seen_")}
    assert told == {("seen_picture", "Theatre right")}
