"""Every file that is given out keeps the documented limits, and each planted fault is found.

The limits and where they are documented stand in specs/limits.toml. The programs that can be run here take more than
the documents allow, so only this test stands for those that cannot be had.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from builder.engine.model import load_model
from builder.planner.books import PLAN, REGISTER
from tests.support.filled import fill
from tests.support.limits import LIMITS, faults_of
from tests.support.workbooks import typed_case

Parts = dict[str, bytes]
STYLES, BOOK, TEXTS = "xl/styles.xml", "xl/workbook.xml", "xl/sharedStrings.xml"
CHART, DRAWING = "xl/charts/chart1.xml", "xl/drawings/drawing1.xml"


FIRST, SHEET = "xl/worksheets/sheet1.xml", "xl/worksheets/sheet2.xml"
PLANTED_IN = (FIRST, SHEET, STYLES, BOOK, TEXTS, CHART, DRAWING)


@pytest.fixture(scope="module")
def blank(tmp_path_factory: pytest.TempPathFactory) -> Parts:
    """Those parts of the blank planning workbook in which faults are planted."""
    path = tmp_path_factory.mktemp("limits") / "blank.xlsx"
    fill(load_model(), {}, path)
    return {name: data for name, data in parts_of(path).items() if name in PLANTED_IN}


def parts_of(path: Path) -> Parts:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


@pytest.mark.parametrize(
    ("book", "language", "case", "lines"),
    [
        (PLAN, "en", "every-limit", None),
        (PLAN, "es", None, None),
        (REGISTER, "en", None, None),
        (REGISTER, "es", None, 12),
    ],
)
def test_each_workbook_keeps_the_limits(
    book: str, language: str, case: str | None, lines: int | None, tmp_path: Path
) -> None:
    """Blank and filled, plan and register, in both languages; `python -m tests.validated` takes the files as given."""
    path = tmp_path / "book.xlsx"
    fill(load_model(book, language, lines=lines), typed_case(case) if case else {}, path)
    assert list(faults_of(parts_of(path))) == []


def _in(part: str, pattern: str, new: str) -> Callable[[Parts], Parts]:
    """A plant: the first place in a part that fits is replaced."""

    def planted(parts: Parts) -> Parts:
        text, found = re.subn(pattern, new, parts[part].decode(), count=1, flags=re.S)
        assert found, f"{part} has no {pattern}"
        return parts | {part: text.encode()}

    return planted


LONG_PROMPT, HERE = "p" * 256, '<hyperlink ref="A1" location="\'Start\'!A1"/>'
PLANTS: dict[str, Callable[[Parts], Parts]] = {
    "formula too long": _in(SHEET, r"<f>", "<f>1+" + "A1+" * 2800),
    "formula too many bytes": _in(SHEET, r"<f>", "<f>1+" + "A1+" * 1400),
    "nested too deep": _in(SHEET, r"<f>", "<f>" + "ABS(" * 65 + "1" + ")" * 65 + "+"),
    "too many arguments": _in(SHEET, r"<f>", "<f>MAX(" + "1," * 255 + "1)+"),
    "text in a formula too long": _in(SHEET, r"<f>", '<f>LEN("' + "x" * 256 + '")+'),
    "sheet name too long": _in(BOOK, r'<sheet name="[^"]*"', '<sheet name="' + "n" * 32 + '"'),
    "sheet name twice": _in(
        BOOK, r'<sheet name="[^"]*" (.*?)<sheet name="[^"]*"', r'<sheet name="One" \1<sheet name="one"'
    ),
    "sheet name with a slash": _in(BOOK, r'<sheet name="[^"]*"', '<sheet name="a/b"'),
    "title of a rule too long": _in(SHEET, r'errorTitle="[^"]*"', 'errorTitle="' + "t" * 33 + '"'),
    "help of a rule too long": _in(SHEET, r"<dataValidation ", f'<dataValidation prompt="{LONG_PROMPT}" x="" '),
    "alert of a rule too long": _in(SHEET, r' error="[^"]*"', ' error="' + "e" * 225 + '"'),
    "formula of a rule too long": _in(SHEET, r"<formula1>", "<formula1>" + "1+" * 128),
    "footer too long": _in(SHEET, r"<oddFooter>", "<oddFooter>" + "f" * 255),
    "text of a cell too long": _in(TEXTS, r"<t[^>]*>", "<t>" + "c" * 32768),
    "row too high": _in(SHEET, r' ht="[\d.]+"', ' ht="410"'),
    "column too wide": _in(SHEET, r'width="[\d.]+"', 'width="256"'),
    "too many fonts": _in(STYLES, r"(<fonts[^>]*>)", r"\1" + "<font/>" * 1025),
    "number format broken": _in(STYLES, r'formatCode="[^"]*"', 'formatCode="0.00&quot;D"'),
    "too many points": _in(CHART, r'<c:ptCount val="\d+"', '<c:ptCount val="32001"'),
    "alternative text too long": _in(DRAWING, r'descr="', 'descr="' + "a" * 256),
    "link to nowhere": _in(FIRST, r'location="[^"]*"', "location=\"'No sheet'!A1\""),
    "cells out of order": _in(SHEET, r'(<c r="A6".*?)(<c r="B6"[^>]*?/>)', r"\2\1"),
    "kind of a value unknown": _in(SHEET, r' t="s"', ' t="q"'),
    "a number that is none": _in(SHEET, r"<v>(\d+)</v>", "<v>1,5</v>"),
    "a shared text that is not there": _in(SHEET, r't="s"><v>\d+</v>', 't="s"><v>999999</v>'),
    "a function newer than 2007": _in(SHEET, r"<f>", "<f>IFNA(1,2)+"),
    "an area of one cell": _in(SHEET, r"<f>", "<f>SUM(B6:B6)+"),
    "the moving part inside the frozen one": _in(SHEET, r'topLeftCell="[A-Z]+\d+"', 'topLeftCell="A1"'),
    "a format that is not there": _in(SHEET, r' s="\d+"', ' s="99999"'),
    "too many line breaks": _in(TEXTS, r"<t[^>]*>", "<t>" + "\n" * 254),
    "too many series": _in(CHART, r"(<c:ser>.*?</c:ser>)", r"\1" * 256),
    "too many page breaks": _in(SHEET, r"</sheetData>", "</sheetData><rowBreaks>" + "<brk/>" * 1027 + "</rowBreaks>"),
    "too many areas of a rule": _in(SHEET, r'(<dataValidation [^>]*sqref=")', r"\1" + "A1 " * 8193),
    "too many links": _in(FIRST, r"<hyperlinks>", "<hyperlinks>" + HERE * 65531),
    "link too long": _in(FIRST, r'location="', 'location="' + "l" * 2080),
    "name too long": _in(BOOK, r"<definedNames>", f'<definedNames><definedName name="{"n" * 256}">1</definedName>'),
    "print titles of no sheet": _in(BOOK, r"(<definedName [^>]*>)[^!<]*!", r"\1'No sheet'!"),
    "too many cell formats": _in(STYLES, r"(<cellXfs[^>]*>)", r"\1" + "<xf/>" * 65491),
    "too many number formats": _in(STYLES, r"(<numFmts[^>]*>)", r"\1" + '<numFmt formatCode="0"/>' * 201),
    "number format too long": _in(STYLES, r'formatCode="', 'formatCode="' + "0" * 256),
    "too many fills": _in(STYLES, r"(<fills[^>]*>)", r"\1" + "<fill/>" * 257),
    "a formula with an error": _in(SHEET, r' t="str"><f>', ' t="e"><f>'),
}


@pytest.fixture(scope="module")
def found(blank: Parts) -> dict[str, list[str]]:
    """What is found of each planted fault; the parts themselves have none."""
    assert list(faults_of(blank)) == []
    return {name: list(faults_of(planted(blank))) for name, planted in PLANTS.items()}


@pytest.mark.parametrize("name", PLANTS)
def test_a_planted_fault_is_found(found: dict[str, list[str]], name: str) -> None:
    """Each is one thing that a strict program would refuse or silently drop."""
    assert found[name]


def test_each_limit_is_passed_by_a_planted_fault(found: dict[str, list[str]]) -> None:
    """A limit that nothing measures would never be passed."""
    lines = [line for lines in found.values() for line in lines]
    asked = {key: f" {limit['what']}, at most" for key, limit in LIMITS.items()}
    assert [key for key, said in asked.items() if not any(said in line for line in lines)] == []


def test_each_limit_says_where_it_is_documented() -> None:
    """A limit without a source is an opinion."""
    assert len(LIMITS) >= 24 and len(PLANTS) >= 24
    assert [key for key, limit in LIMITS.items() if not limit["documented"]] == []
