"""A part changed by hand among parts that are as they were written, whatever of it a person sees."""

from __future__ import annotations

import re

import pytest

from builder.engine.audit.by_hand import KINDS
from builder.engine.model import Model
from tests.support.filled import fill
from tests.support.hostile import Parts, parts_of
from tests.support.in_memory import report_on
from tests.support.workbooks import typed_case

# Of one part each: what stands there and what is put in its stead, none of which the other comparisons look at.
CHANGES = {
    "a font of a chart": ("xl/charts/chart7.xml", rb'<a:latin typeface="Arial"/>', b""),
    "marks of an axis": ("xl/charts/chart9.xml", rb'<c:minorTickMark val="none"/>', b'<c:minorTickMark val="in"/>'),
    "a format of an axis": ("xl/charts/chart9.xml", rb'<c:numFmt formatCode="0" sourceLinked="0"/>', b""),
    "a picture a little moved": ("xl/drawings/drawing2.xml", rb"<xdr:colOff>57150<", b"<xdr:colOff>58150<"),
    "a link at the head": ("xl/worksheets/sheet24.xml", rb'<hyperlink ref="A1"[^>]*/>', b""),
    "a margin of the foot": ("xl/worksheets/sheet14.xml", rb' footer="0\.3"', b' footer="0.4"'),
}


@pytest.fixture(scope="module")
def good(model: Model, tmp_path_factory: pytest.TempPathFactory) -> Parts:
    """A complete plan as the builder writes it."""
    path = tmp_path_factory.mktemp("good") / "good.xlsx"
    fill(model, typed_case("ready"), path)
    return parts_of(path)


def changed(good: Parts, name: str) -> Parts:
    """The file with one of the changes."""
    part, was, new = CHANGES[name]
    data, found = re.subn(was, new, good[part], count=1)
    assert found == 1, f"{part} no longer holds what is changed"
    return good | {part: data}


@pytest.mark.parametrize("name", CHANGES)
def test_a_part_changed_by_hand_is_named(good: Parts, name: str) -> None:
    found = [f for f in report_on(changed(good, name)).findings if f.kind == "by_hand"]
    assert [f.found for f in found] == [CHANGES[name][0]]
    assert found[0].of_meaning


@pytest.mark.parametrize("kind", KINDS)
def test_parts_that_were_all_written_anew_are_not(good: Parts, kind: str) -> None:
    """As a program does that saves the file: all sheets, all drawings or all charts differ by a space."""
    pattern, _ = KINDS[kind]
    anew = {name: data + b"\n" if pattern.fullmatch(name) else data for name, data in good.items()}
    assert anew != good
    assert not [f for f in report_on(anew).findings if f.kind == "by_hand"]
