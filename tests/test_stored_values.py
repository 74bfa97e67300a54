"""What a file shows before anything recalculates it: a preview, a telephone, a protected view."""

from pathlib import Path

import pytest

from builder.engine.exchange.cellvalues import Cells
from builder.engine.exchange.engines import recalculate, shown_on_opening
from builder.engine.exchange.office import convert_sheets
from builder.engine.exchange.office_values import FILTER, OPTIONS, sheet_titles
from builder.engine.model import Model
from builder.engine.spec.reading import SPECS
from tests.support.filled import fill_many
from tests.support.workbooks import differences, errors, expected, typed_case

NAMES = ("blank", sorted((SPECS / "cases").glob("*.toml"))[0].stem, "ready", "past-the-root", "refused-readings")
# As the cells show it and not as it is: the ninth of the filter's options.
AS_SHOWN = ",".join(["true" if at == 8 else option for at, option in enumerate(OPTIONS.split(","))])


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


def test_opening_shows_what_computing_shows(model: Model, books: list[Path], libreoffice: str, tmp_path: Path) -> None:
    """Letter by letter as it is shown, blank and demo, before LibreOffice computes and after. `tests/test_witness.py`
    holds every case to it, in numbers."""
    files = books[:2]
    titles, shown = [sheet_titles(path) for path in files], []
    for computed in (False, True):
        folder = tmp_path / str(computed)
        folder.mkdir()
        kind = f"csv:{FILTER}:{AS_SHOWN}"
        shown.append([_lines(sheets) for sheets in convert_sheets(files, folder, kind, titles, computed)])
    for name, stored, computed_ in zip(NAMES, *shown, strict=False):
        assert sum(map(len, stored.values())) > 1000
        apart = [pair for title, lines in stored.items() for pair in zip(lines, computed_[title], strict=True)]
        assert [pair for pair in apart if pair[0] != pair[1]] == [], name


def _lines(sheets: dict[str, Path]) -> dict[str, list[str]]:
    return {title: file.read_text(encoding="utf-8").splitlines() for title, file in sheets.items()}
