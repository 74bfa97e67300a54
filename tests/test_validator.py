"""Every kind of workbook is as the format's own validator wants it, in its first form and in the current one."""

from __future__ import annotations

import os
import re
import zipfile
from pathlib import Path

import pytest

from builder.engine.exchange.office import EngineMissing
from builder.engine.exchange.validator import FORMS, validate, validator
from builder.engine.model import load_model
from builder.planner.books import PLAN, REGISTER
from tests.support.filled import fill
from tests.support.workbooks import typed_case

BOOKS = {
    "plan": (PLAN, "en", "blank"),
    "plan of a demo": (PLAN, "en", "1-cone-both-eyes"),
    "plan in Spanish": (PLAN, "es", "blank"),
    "register": (REGISTER, "en", "blank"),
}


@pytest.fixture(scope="module")
def program() -> str:
    """The validator, or a skipped test that says what is missing."""
    try:
        return validator()
    except EngineMissing as reason:
        if os.environ.get("REQUIRE_ENGINES") == "1":
            pytest.fail(f"engine missing: {reason}", pytrace=False)
        pytest.skip(f"engine missing: {reason}")


@pytest.mark.parametrize("name", BOOKS)
def test_a_workbook_has_no_error_in_either_form(name: str, program: str, tmp_path: Path) -> None:
    """A register with twelve lines stands for the long one, whose lines are all alike."""
    book, language, case = BOOKS[name]
    path = tmp_path / "book.xlsx"
    fill(load_model(book, language, lines=12 if book == REGISTER else None), typed_case(case), path)
    assert {form: validate(path, form) for form in FORMS} == {form: [] for form in FORMS}


def test_the_validator_finds_a_planted_error(program: str, tmp_path: Path) -> None:
    """A row with an attribute that the format does not know."""
    good, bad = tmp_path / "good.xlsx", tmp_path / "bad.xlsx"
    fill(load_model(), {}, good)
    with zipfile.ZipFile(good) as source, zipfile.ZipFile(bad, "w") as target:
        for part in source.namelist():
            data = source.read(part)
            if part == "xl/worksheets/sheet1.xml":
                data = re.sub(rb"<row ", b'<row odd="1" ', data, count=1)
            target.writestr(part, data)
    assert validate(bad, FORMS[-1])
