"""The risk file is whole: what it names is there, every point and every number from memory serves a hazard, and each
hazard has a control or somebody who bears it.

The vocabulary is that of ISO 14971, from memory; which hazards there are is common practice and ours, no source.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from builder.engine.model import Model, load_model
from builder.engine.spec.errors import SpecError
from builder.engine.spec.hazard import Hazard
from builder.engine.spec.hazards import controls, controls_said, matching, read_hazards, unserved
from builder.engine.spec.load import load_workbook_spec
from builder.engine.spec.model import Point
from builder.engine.spec.reading import SPECS, read_toml
from builder.engine.spec.words import ENGLISH, languages
from builder.engine.spec.workbook import WorkbookSpec
from builder.planner.books import PLAN, REGISTER
from tests.support.filled import fill
from tests.test_room import _columns, cut

TESTS = Path(__file__).parent
LEAST = 50  # hazards
ANYTHING = "*"


@pytest.fixture(scope="module")
def spec() -> WorkbookSpec:
    """The planning workbook."""
    return load_workbook_spec(PLAN)


@pytest.fixture(scope="module", params=languages(SPECS))
def written(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Model, openpyxl.Workbook]:
    """The blank planning workbook of each language."""
    model = load_model(PLAN, request.param)
    path = tmp_path_factory.mktemp("hazards") / "blank.xlsx"
    fill(model, {}, path)
    return model, openpyxl.load_workbook(path)


def rows_and_inputs() -> set[str]:
    """The keys of all rows and inputs of both workbooks."""
    specs = [load_workbook_spec(name, ENGLISH) for name in (PLAN, REGISTER)]
    return {row.key for one in specs for _, block in one.blocks() for row in block.rows} | {
        item.key for one in specs for item in one.inputs
    }


def not_tests(hazards: tuple[Hazard, ...]) -> list[str]:
    """The tests that hazards name and that are not there."""
    lost = []
    for name in sorted({name for hazard in hazards for name in hazard.tests}):
        file, _, test = name.partition("::")
        path = TESTS / f"{file}.py"
        text = path.read_text(encoding="utf-8") if path.exists() else ""
        if not re.search(rf"^def {test}\(", text, re.MULTILINE):
            lost.append(name)
    return lost


def test_there_are_enough_hazards_of_every_group(spec: WorkbookSpec) -> None:
    """Fifty or more, and every group has some."""
    assert len(spec.hazards) >= LEAST
    assert {hazard.group for hazard in spec.hazards} == set(read_toml(SPECS / "hazards.toml")["groups"])


def test_every_key_that_is_named_exists(spec: WorkbookSpec) -> None:
    """Rows and inputs of either workbook, constants and texts; points are held by the build."""
    keys, wrong = rows_and_inputs(), []
    for hazard in spec.hazards:
        wrong += [(hazard.key, name) for name in hazard.rows if not matching(name, keys)]
        wrong += [(hazard.key, name) for name in hazard.constants if not matching(name, spec.constants)]
        wrong += [(hazard.key, name) for name in hazard.says if not spec.words.has(*name.split("."))]
    assert not wrong


def test_every_test_that_is_named_exists(spec: WorkbookSpec) -> None:
    """By file and name; one that is not there is found."""
    assert not not_tests(spec.hazards)
    gone = Hazard("gone", 1, "files", "delay", "minor", tests=("test_hazards::test_of_nothing", "test_nowhere::test_x"))
    assert not_tests((gone,)) == ["test_hazards::test_of_nothing", "test_nowhere::test_x"]


def test_every_point_serves_a_hazard(spec: WorkbookSpec) -> None:
    """Of the plan and of the eyes, refusals too; one that no hazard names and that names none stops the build."""
    keys = [point.key for point in spec.points]
    assert not unserved(spec.hazards, keys)
    without = tuple(hazard for hazard in spec.hazards if "eyes_apart" not in hazard.points)
    assert unserved(without, keys) == ["eyes_apart"]
    assert not [hazard.key for hazard in spec.hazards if ANYTHING in hazard.points]
    new = Point("new", "soft", False, "0", cell="acd", code=1114, file="16-points.toml")
    with pytest.raises(SpecError, match="'new': serves no hazard"):
        read_hazards(SPECS, (*spec.points, new))
    with pytest.raises(SpecError, match=r"names the hazard 'bag_tron'\. did you mean 'bag_torn'"):
        read_hazards(SPECS, (*spec.points, replace(new, hazard="bag_tron")))
    served = {
        hazard.key: hazard.points for hazard in read_hazards(SPECS, (*spec.points, replace(new, hazard="bag_torn")))
    }
    assert served["bag_torn"][-1] == "new"


def test_every_number_from_memory_serves_a_hazard(spec: WorkbookSpec) -> None:
    """Each constant marked M is named, alone or in its group, and no pattern takes in all of them."""
    patterns = [pattern for hazard in spec.hazards for pattern in hazard.constants]
    remembered = [constant.key for constant in spec.constants.values() if constant.mark == "M"]
    assert len(remembered) > 50
    assert not [key for key in remembered if not any(matching(pattern, [key]) for pattern in patterns)]
    assert ANYTHING not in patterns


def test_every_hazard_has_a_control_or_somebody_who_bears_it(spec: WorkbookSpec) -> None:
    """A serious one that nothing in the workbook prevents or shows is borne by somebody by name."""
    for hazard in spec.hazards:
        controlled = hazard.points or hazard.rows or hazard.constants or hazard.says or hazard.tests
        assert controlled or hazard.left_to, hazard.key
        if hazard.left_to:
            assert spec.words.get("residual", hazard.key)
    assert {key for key in spec.words.tables["hazard"]} == {hazard.key for hazard in spec.hazards}


def test_the_sheet_says_every_hazard_and_cuts_none(written: tuple[Model, openpyxl.Workbook]) -> None:
    """One line a hazard with its number, its words in this language and its controls, whole in its cells."""
    model, book = written
    sheet = book[model.spec.sheet_title("hazards")]
    columns = _columns(sheet, len(next(s for s in model.spec.sheets if s.key == "hazards").columns))
    lines = {str(row[0].value).partition(".")[0]: row for row in sheet.iter_rows()}
    for hazard in model.spec.hazards:
        line = lines[str(hazard.number)]
        words = [model.spec.words.get(table, hazard.key) for table in ("hazard", "sequence", "residual")]
        assert [line[0].value, line[1].value] == [f"{hazard.number}. {words[0]}", words[1]]
        assert str(line[5].value).endswith(words[2])
        assert not re.search("[a-z]_[a-z]", " ".join(str(cell.value) for cell in line[:6])), (
            "a key, which no clinician knows"
        )
        assert line[6].value.split("\n") == [key for _, keys in controls(hazard, model.spec.points) for key in keys]
        for _, said in controls_said(model.spec, controls(hazard, model.spec.points)):
            assert all(text in line[4].value for text in said)
    texts = [cell for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str) and cell.value[0] != "="]
    filled = {(cell.row, cell.column) for cell in texts}
    assert len(texts) > 5 * LEAST
    assert not [cell.coordinate for cell in texts if cut(cell, cell.value, columns, filled)]
    assert sheet.page_setup.orientation == "landscape"
    assert sheet.print_title_rows and sheet.max_column <= len(columns)


def test_a_number_or_point_that_cannot_be_is_told(spec: WorkbookSpec, tmp_path: Path) -> None:
    """Two hazards of one number, and a point that is not there."""
    text = (SPECS / "hazards.toml").read_text(encoding="utf-8")
    for old, new, said in (
        ("number = 2\n", "number = 1\n", "has the number 1 of another hazard"),
        ('"no_file_number"', '"no_fiel_number"', "names the point 'no_fiel_number'"),
    ):
        (tmp_path / "hazards.toml").write_text(text.replace(old, new, 1), encoding="utf-8")
        with pytest.raises(SpecError, match=said):
            read_hazards(tmp_path, spec.points)
