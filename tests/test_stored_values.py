"""What a file shows before anything recalculates it: a preview, a telephone, a protected view."""

from pathlib import Path

import pytest

from builder.engine.exchange.cellvalues import Cells
from builder.engine.exchange.engines import recalculate, shown_on_opening
from builder.engine.model import Model, load_model
from builder.engine.spec.reading import SPECS
from builder.planner.books import PLAN, REGISTER
from builder.planner.exchange.casefile import read_case
from tests.opened import cells_apart
from tests.support.filled import fill, fill_many
from tests.support.witnesses import SHORT, short_registers
from tests.support.workbooks import case_files, differences, errors, expected, typed_case

NAMES = ("blank", sorted((SPECS / "cases").glob("*.toml"))[0].stem, "ready", "past-the-root", "refused-readings")


@pytest.fixture(scope="module")
def books(model: Model, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Workbooks as the generator writes them."""
    folder = tmp_path_factory.mktemp("stored")
    jobs = [(typed_case(name), folder / f"{name}.xlsx") for name in NAMES]
    fill_many(model, jobs)
    return [path for _, path in jobs]


def _compare(model: Model, names: list[str], results: list[Cells]) -> None:
    wanted = expected(model, [typed_case(name) for name in names])
    for name, cells, found in zip(names, wanted, results, strict=True):
        wrong = differences(model, cells, found) + errors(found)
        assert not wrong, f"{name}: {len(wrong)} cells\n" + "\n".join(wrong[:30])


def test_every_formula_stores_its_value(model: Model, books: list[Path]) -> None:
    """Every formula cell of a written file holds the value that the reference computes."""
    _compare(model, list(NAMES), recalculate(books, "stored"))


def test_default_opening_shows_right_values(model: Model, books: list[Path], libreoffice: str) -> None:
    """LibreOffice with its default settings, which do not recalculate on load, shows the right values at once."""
    _compare(model, list(NAMES), shown_on_opening(books))


@pytest.mark.parametrize(
    ("name", "language", "office"), [(PLAN, "en", "en-US"), (PLAN, "es", "es-ES"), (REGISTER, "en", "en-US")]
)
def test_opening_shows_what_computing_shows(
    name: str, language: str, office: str, libreoffice: str, tmp_path: Path
) -> None:
    """Letter by letter as it is shown, before LibreOffice computes and after, a demo and a register of twelve lines.
    `tests/test_witness.py` holds every case to it, in numbers; `python -m tests.opened` all files, and their pages."""
    model = load_model(name, language, lines=SHORT if name == REGISTER else None)
    typed = short_registers(model)[f"{SHORT} lines"] if name == REGISTER else read_case(model, case_files()[NAMES[1]])
    fill(model, typed, tmp_path / "book.xlsx")
    lines, apart = cells_apart(tmp_path / "book.xlsx", tmp_path, office)
    assert lines > 1000
    assert not apart, "\n".join(apart)
