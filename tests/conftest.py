"""What many tests share: the workbook, files sent back, and the engines.

A missing engine is skipped and named at the end, or fails under REQUIRE_ENGINES=1.
"""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from builder.exchange.cellvalues import Cells
from builder.exchange.engines import INDEPENDENT, missing, recalculate
from builder.exchange.fill import fill
from builder.exchange.formulas_model import FormulasModel
from builder.gather.lines import Gathered, gather
from builder.model import Model, load_model
from builder.simulation.store import read_simulated
from tests.support.sent import PERSONS, write_cases
from tests.support.workbooks import Typed, at

_PREFIX = "engine missing: "


def _demand(engine: str) -> str:
    reason = missing(engine)
    if reason and os.environ.get("REQUIRE_ENGINES") == "1":
        pytest.fail(_PREFIX + reason, pytrace=False)
    if reason:
        pytest.skip(_PREFIX + reason)
    return engine


@pytest.fixture(scope="session")
def model() -> Model:
    """The planning workbook, ready to be written."""
    return load_model()


@pytest.fixture(scope="module")
def sent(model: Model, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Filled workbooks of the first invented persons of the register."""
    return write_cases(model, read_simulated()[:PERSONS], tmp_path_factory.mktemp("sent"))


@pytest.fixture(scope="module")
def gathered(sent: list[Path]) -> Gathered:
    """What gathering them gives."""
    return gather(sent, len(sent) * 2)


@pytest.fixture(scope="session", params=INDEPENDENT)
def engine(request: pytest.FixtureRequest) -> str:
    """Each program that recalculates a workbook, one after the other."""
    return _demand(request.param)


@pytest.fixture(scope="session")
def formulas() -> str:
    """For a test of the Python library alone."""
    return _demand("formulas")


@pytest.fixture(scope="session")
def libreoffice() -> str:
    """For a test of LibreOffice alone."""
    return _demand("libreoffice")


@pytest.fixture(scope="session")
def gnumeric() -> str:
    """For a test of Gnumeric alone."""
    return _demand("gnumeric")


@pytest.fixture(scope="session")
def in_formulas(model: Model, tmp_path_factory: pytest.TempPathFactory, formulas: str) -> FormulasModel:
    """The blank workbook in the library `formulas`, whose loading takes half a minute: once for all tests."""
    path = tmp_path_factory.mktemp(formulas) / "blank.xlsx"
    fill(model, {}, path)
    return FormulasModel(path)


@pytest.fixture
def computed(model: Model, engine: str, request: pytest.FixtureRequest) -> Callable[[Typed, Path], Cells]:
    """The cells of a case in each engine, for what is typed and the file in which it stands."""
    if engine != "formulas":
        return lambda typed, path: recalculate([path], engine)[0]
    loaded = request.getfixturevalue("in_formulas")
    return lambda typed, path: loaded.calculate({at(model, place): value for place, value in typed.items()})


@pytest.hookimpl(tryfirst=True)  # xdist reads the groups in the same hook
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The tests of a file run in one process, for what they share; those of the library `formulas` all in one."""
    for item in items:
        in_library = "[formulas]" in item.name or "in_formulas" in getattr(item, "fixturenames", ())
        item.add_marker(pytest.mark.xdist_group("formulas" if in_library else item.path.stem))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say plainly what a run without all engines did not check."""
    counts: dict[str, int] = {}
    for report in terminalreporter.stats.get("skipped", []):
        text = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
        if _PREFIX in text:
            reason = text.partition(_PREFIX)[2]
            counts[reason] = counts.get(reason, 0) + 1
    if counts:
        terminalreporter.section("NOT CHECKED, because an engine is missing", sep="!")
        for reason, count in sorted(counts.items()):
            terminalreporter.line(f"{count} tests skipped: {reason}")
