"""Spanish workbooks that a clinic's program has saved: taken like English ones, although their sheets have accents."""

from __future__ import annotations

from pathlib import Path

import pytest

from builder.engine.audit.formulas import same_formula
from builder.engine.audit.verify import CLEAN, verify
from builder.engine.exchange import gnumeric, office
from builder.engine.model import Model, load_model
from builder.planner.books import PLAN
from builder.planner.exchange.casefile import read_case
from builder.planner.gather.lines import Line, read_files
from tests.support.filled import fill
from tests.support.workbooks import case_files, typed_case

CASE = "register-line"  # with a visit after surgery, so that it gives lines


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A Spanish workbook as the builder fills it."""
    spanish = load_model(PLAN, "es")
    path = tmp_path_factory.mktemp("libros") / "lleno.xlsx"
    fill(spanish, read_case(spanish, case_files()[CASE]), path)
    return path


def _lines(path: Path) -> list[Line]:
    lines, refusal = read_files([path])[0]
    assert refusal is None, refusal.sentence
    return lines


@pytest.mark.parametrize("program", ["libreoffice", "gnumeric"])
def test_a_spanish_workbook_saved_again_is_taken(
    model: Model, book: Path, program: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    """Both programs write Córnea!B2 without the quotes that we write: clean, and the lines of the English workbook."""
    request.getfixturevalue(program)
    saved = {"libreoffice": office.convert, "gnumeric": gnumeric.convert}[program]([book], tmp_path)[0]
    report = verify(saved)
    assert report.verdict == CLEAN, "\n".join(report.lines())
    english = tmp_path / "english.xlsx"
    fill(model, typed_case(CASE), english)
    lines = _lines(saved)
    assert lines and lines == _lines(english) == _lines(book)


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("'Córnea'!B2", "Córnea!$B$2", True),
        ("SUM('Comprobación'!B2:B4)", "SUM(Comprobación!B2:B4)", True),
        ("'Córnea'!B2", "Cornea!B2", False),
        ("'Línea del registro'!B2", "Línea del registro!B2", False),
        ("'2ª lectura'!B2", "2ª lectura!B2", False),
        ("'a-ñ'!B2", "a-ñ!B2", False),
        ("'Córnea'!B2", '"Córnea!B2"', False),
    ],
)
def test_quotes_may_be_left_away_where_letters_alone_stand(one: str, other: str, same: bool) -> None:
    """A letter is one of any language; a space, a sign or a digit at the front still needs the quotes."""
    assert same_formula(one, other) is same
