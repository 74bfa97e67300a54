"""What counts as the same value and the same workbook file: neither too loose nor too tight.

What is the same is a decision of the design, not a published value; that an axis is a line, the same half a turn
further on, is geometry.
"""

from __future__ import annotations

import math
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from builder.engine.model import load_model
from builder.engine.same import differences, parts, same
from tests.support.filled import fill
from tests.support.workbooks import typed_case

NUMBER = re.compile(r'(<c r="([A-Z]+[0-9]+)"(?: s="[0-9]+")?>(?:<f>[^<]*</f>)?<v>)(-?[0-9.e-]+)(</v>)')


@pytest.mark.parametrize(
    ("one", "other", "axis", "agree"),
    [
        (1.0, 1.0 + 5e-10, False, True),
        (1.0, 1.0 + 5e-9, False, False),
        (1e12, 1e12 + 1, False, True),
        (1e-12, 0.0, False, True),
        (0.0, 1.0, True, False),
        (180.0, 1e-6, True, True),
        (180.0, 1e-6, False, False),
        (90.0, 90.00001, True, False),
        (30.0, 210.0, True, True),
        (30.0, 210.0, False, False),
        (0.0, 360.0, False, False),
        (-90.0, 90.0, True, True),
        (0.0, 90.0, True, False),
        (1.0, True, False, False),
        (0, False, False, False),
        (True, True, False, True),
        (None, 0.0, False, False),
        (None, "", False, False),
        ("ready", "Ready", False, False),
        ("ready", "ready", False, True),
        (None, None, False, True),
        (math.pi, "3.14", False, False),
    ],
)
def test_two_values(one: object, other: object, axis: bool, agree: bool) -> None:
    assert same(one, other, axis) is agree
    assert same(other, one, axis) is agree


@pytest.mark.parametrize("name", ["plan", "register"])
def test_what_shows_an_axis_is_one(name: str) -> None:
    """A row that picks rows of axes, and does no more with them, is an axis too; nothing else need be."""
    rows = [row for _, block in load_model(name).spec.blocks() for row in block.rows]
    axes = {row.key for row in rows if row.is_axis}
    picks = [
        row.key
        for row in rows
        if (row.echo or row.formula or "").rpartition(".")[2] in axes and row.unit == "degrees" and not row.is_axis
    ]
    assert axes and not picks
    assert not {row.key for row in rows if row.is_axis and row.unit != "degrees"}
    assert not axes & {"incision_meridian", "opening_at", "obstacle_at", "wish_meridian", "tunnel_entry", "old_cuts"}


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A filled planning workbook."""
    path = tmp_path_factory.mktemp("same") / "plan.xlsx"
    fill(load_model(), typed_case("1-cone-both-eyes"), path)
    return path


def _changed(path: Path, to: Path, change: Callable[[str, str], str]) -> Path:
    """The file with its parts changed."""
    with zipfile.ZipFile(to, "w") as archive:
        for name, text in parts(path).items():
            archive.writestr(name, change(name, text))
    return to


def _nudged(factor: float, only: str = "") -> Callable[[str, str], str]:
    """Changes the stored numbers of every sheet and chart, or of the cells at one address alone."""

    def number(found: re.Match[str]) -> str:
        return f"{found[1]}{float(found[3]) * factor!r}{found[4]}" if only in ("", found[2]) else found[0]

    def change(name: str, text: str) -> str:
        text = NUMBER.sub(number, text) if name.startswith("xl/worksheets/") else text
        if name.startswith("xl/charts/") and not only:
            text = re.sub(r"<c:v>(-?[0-9.]+)</c:v>", lambda found: f"<c:v>{float(found[1]) * factor!r}</c:v>", text)
        return text

    return change


def test_the_last_digit_of_every_number_may_differ(written: Path, tmp_path: Path) -> None:
    other = _changed(written, tmp_path / "other.xlsx", _nudged(1 + 1e-12))
    assert other.read_bytes() != written.read_bytes()
    assert differences(other, written) == []


def test_a_millionth_is_named_with_sheet_and_cell(written: Path, tmp_path: Path) -> None:
    model = load_model()
    sheet, address = model.at(model.layout.cells("eyes", "mean_k")["right", "right"].place)
    found = differences(_changed(written, tmp_path / "other.xlsx", _nudged(1 + 1e-6, address)), written)
    assert any(line.startswith(f"{sheet}!{address}: '") for line in found)
    assert all(f"!{address}: '" in line for line in found)
    found = differences(_changed(written, tmp_path / "all.xlsx", _nudged(1 + 1e-6)), written)
    assert sum("!" in line for line in found) > 1000
    assert any(line.startswith("xl/charts/chart") and ": point " in line for line in found)


@pytest.mark.parametrize(
    ("part", "old", "new", "told"),
    [
        ("xl/worksheets/sheet2.xml", "<f>'Open items'!B", "<f>'Open items'!C", "!B1: its formula was ''Open items'!C"),
        ("xl/worksheets/sheet2.xml", '<c r="B2" s="4"', '<c r="B2" s="5"', "!B2: its style was '5'"),
        ("xl/worksheets/sheet2.xml", 't="str"', 't="e"', "!B1: its type was 'e'"),
        ("xl/worksheets/sheet2.xml", 'width="40.7', 'width="41.7', ": differs at col: "),
        ("xl/sharedStrings.xml", "Right eye<", "Right eyes<", ": 'Right eyes<"),
        ("xl/styles.xml", "FF", "FE", "xl/styles.xml: differs at "),
        ("xl/charts/chart1.xml", 'sz="900"', 'sz="901"', "xl/charts/chart1.xml: differs at "),
        ("xl/workbook.xml", "<definedName ", "<definedName hidden='1' ", "xl/workbook.xml: differs at definedName"),
    ],
)
def test_all_else_is_held_letter_by_letter(
    written: Path, tmp_path: Path, part: str, old: str, new: str, told: str
) -> None:
    def change(name: str, text: str) -> str:
        assert name != part or old in text
        return text.replace(old, new, 1) if name == part else text

    found = differences(_changed(written, tmp_path / "other.xlsx", change), written)
    assert any(told in line.replace("<t>", "").replace("</t>", "<") for line in found), found


def test_what_is_no_workbook_is_told(written: Path, tmp_path: Path) -> None:
    (tmp_path / "text.xlsx").write_text("nothing", encoding="utf-8")
    assert differences(tmp_path / "text.xlsx", written)[0].startswith("text.xlsx cannot be read: ")
    assert differences(tmp_path / "none.xlsx", written)[0].startswith("none.xlsx cannot be read: ")
    with zipfile.ZipFile(tmp_path / "less.xlsx", "w") as archive:
        archive.writestr("more.xml", "")
    found = differences(tmp_path / "less.xlsx", written)
    assert "less.xlsx lacks the part xl/styles.xml" in found
    assert "less.xlsx has the part more.xml, which is not built" in found
