"""What a file shows before anything recalculates it: a preview, a telephone, a protected view."""

from pathlib import Path

import pytest

from builder.build import BLANK, DEMO, OUTPUT
from builder.exchange.cellvalues import Cells
from builder.exchange.engines import recalculate, shown_on_opening
from builder.exchange.fill import fill_many
from builder.model import Model
from builder.spec.load import SPECS
from tests.support.workbooks import differences, errors, expected, typed_case

NAMES = ("blank", sorted((SPECS / "cases").glob("*.toml"))[0].stem, "ready", "past-the-root", "refused-readings")
COMMITTED = {BLANK: "blank", DEMO: NAMES[1]}


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


def test_committed_files_show_right_values(model: Model, libreoffice: str) -> None:
    """The committed workbooks show the right values when opened, if they are of this edition."""
    files = [OUTPUT / name for name in COMMITTED]
    if any(recalculate([path], "stored")[0][model.edition_cell()] != model.edition for path in files):
        pytest.skip("output/ is of another edition; test_same_bytes tells that")
    _compare(model, list(COMMITTED.values()), shown_on_opening(files))
