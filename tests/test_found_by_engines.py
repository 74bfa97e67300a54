"""What other engines once found: reference and cells agree in it, and each is as the general rule has it."""

from __future__ import annotations

import json
import re
import zipfile
from pathlib import Path

import numpy as np
import pytest

from builder.cli import main
from builder.engine.model import Model, load_model
from builder.planner.books import REGISTER
from builder.planner.exchange.casefile import typed_cells
from builder.planner.reading import read_workbook
from builder.planner.reference import circle
from tests.saved import alike, by_openpyxl
from tests.support.filled import fill
from tests.support.witnesses import compare, witness
from tests.support.workbooks import Typed, by_key, expected, typed_case


def _changed(model: Model, **change: float | str) -> Typed:
    return {**typed_case("ready"), **typed_cells(model, {"right": change})}


def test_equal_back_radii_need_no_axis(model: Model) -> None:
    """They are a sphere, which has no cylinder to turn (general optics): front and back are a source all the same."""
    state = _changed(model, back_flat_radius=6.4, back_steep_radius=6.4, astigmatism_source="front and back")
    found = compare(model, {"equal back radii": state}, witness())
    assert not found.wrong, "\n".join(found.told(model))
    cells = expected(model, [state])[0]
    assert by_key(model, cells, "source_used", "right") == "front and back"
    assert by_key(model, cells, "back_cylinder", "right") == 0


def test_an_effect_of_0_needs_no_meridian(model: Model) -> None:
    """A vector of no size adds nothing, wherever it points (vector addition), though its meridian is refused."""
    state = _changed(model, incision_sia=0.0, incision_meridian=400.0)
    found = compare(model, {"no effect": state}, witness())
    assert not found.wrong, "\n".join(found.told(model))
    with_effect, without = expected(model, [typed_case("ready"), state])
    assert by_key(model, without, "state_incision_meridian", "right") == "out of limits"
    source = by_key(model, without, "source_used", "right")
    assert source == by_key(model, with_effect, "source_used", "right") == "keratometry"
    steep, flat = (by_key(model, without, f"ring_{end}_power", "right") for end in ("steep", "flat"))
    assert by_key(model, without, "total_cylinder", "right") == pytest.approx(steep - flat)


def test_half_a_degree_is_shown_as_the_next_whole_one() -> None:
    """As ROUND does (ISO/IEC 29500-1, 18.17.7.290), and not to the even one."""
    halves = np.array([0.5, 1.5, 2.5, 92.5, 179.5])
    assert circle.whole(halves).tolist() == [1, 2, 3, 93, 180]


@pytest.mark.parametrize("name", ["plan", REGISTER])
def test_an_empty_result_is_stored_as_a_text(name: str, tmp_path: Path) -> None:
    """The format's own way (ISO/IEC 29500-1, 18.18.11), in every formula cell: no number without a value."""
    path = tmp_path / "book.xlsx"
    fill(load_model(name, lines=12 if name == REGISTER else None), {}, path)
    with zipfile.ZipFile(path) as archive:
        sheets = [archive.read(part).decode() for part in archive.namelist() if part.startswith("xl/worksheets/sheet")]
    empty = [
        head for sheet in sheets for head in re.findall(r"<c ([^>]*)><f>[^<]*</f>(?:<v></v>|<v/>|(?=</c>))", sheet)
    ]
    assert len(empty) > 500
    assert [head for head in empty if 't="str"' not in head] == []


def test_read_asks_ironcalc_for_what_is_not_stored(
    model: Model, tmp_path: Path, ironcalc: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file saved without results, by openpyxl, gives by `read --engine` what the file as built has stored."""
    built = tmp_path / "built.xlsx"
    fill(model, typed_case("1-cone-both-eyes"), built)
    (saved,) = by_openpyxl([built], tmp_path)
    assert main(["read", str(saved), "--json", "--engine", ironcalc]) == 0
    found, wanted = json.loads(capsys.readouterr().out), read_workbook(built)
    assert alike(json.loads(json.dumps(wanted, default=str)), found)
    assert wanted["right"]["status"] == "ready"
    assert not alike(wanted, read_workbook(saved))
