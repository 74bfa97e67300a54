"""What many tests share: the workbook, files sent back, and the engines.

A missing engine is skipped and named at the end, or fails under REQUIRE_ENGINES=1.
"""

import gc
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from xdist.scheduler import LoadScopeScheduling

from builder.engine.exchange.cellvalues import Cells
from builder.engine.exchange.engines import INDEPENDENT, missing, recalculate
from builder.engine.exchange.formulas_model import FormulasModel
from builder.engine.exchange.ironcalc_model import IronCalcModel
from builder.engine.model import Model, load_model
from builder.planner.gather.lines import Gathered, gather
from builder.planner.simulation.store import read_simulated
from tests.support.filled import fill, keep_in
from tests.support.many_states import library_missing
from tests.support.sent import PERSONS, write_cases
from tests.support.workbooks import Typed, at

gc.set_threshold(100_000, 50, 50)  # as builder/__main__.py does
_PREFIX = "engine missing: "
SCREEN = "tests/screen/"  # tests that mostly wait for a window: in the process WAITS, beside the others
WAITS = "gw2"
# What a change most often breaks, for `python -m pytest -m quick`: the tests of these files, and those of the published
# figures, that ask no engine and no file.
QUICK = (
    *("one_direction", "house_rules", "grammar", "spec_mistakes", "translation", "good_practice", "short_formulas"),
    *("witness", "same", "invented", "laws", "odds_in_the_workbook", "displays", "imports"),
)
LONG = (  # the files that take longest, longest first: handed out before the others
    *("three_engines", "bad_input", "verify_register", "verify", "register", "theatre_page", "spanish", "seen"),
    *("validator", "seen_drawn", "deceits", "campaign", "typing", "stored_values", "returned_files", "damaged_files"),
    *("best_axis", "compare", "proof", "same_bytes", "gather", "room"),
)
SLOW = {  # their fixtures
    *("engine", "formulas", "libreoffice", "gnumeric", "ironcalc", "in_formulas", "in_ironcalc", "computed"),
    *("blank", "books", "written", "built", "sent"),
}


def _demand(engine: str) -> str:
    reason = missing(engine) or (engine == "gnumeric" and library_missing())
    if reason and os.environ.get("REQUIRE_ENGINES") == "1":
        pytest.fail(_PREFIX + reason, pytrace=False)
    if reason:
        pytest.skip(_PREFIX + reason)
    return engine


@pytest.fixture(scope="session", autouse=True)
def _filled_once(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> None:
    """All processes of a run share the workbooks that are filled in it."""
    own = tmp_path_factory.getbasetemp()
    keep_in((own.parent if hasattr(request.config, "workerinput") else own) / "filled")


@pytest.fixture(scope="session")
def model() -> Model:
    """The planning workbook, ready to be written."""
    loaded = load_model()
    gc.freeze()
    return loaded


@pytest.fixture(scope="session")
def sent(model: Model, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Filled workbooks of the first invented persons of the register."""
    return write_cases(model, read_simulated()[:PERSONS], tmp_path_factory.mktemp("sent"))


@pytest.fixture(scope="session")
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
def ironcalc() -> str:
    """For a test of IronCalc alone."""
    return _demand("ironcalc")


@pytest.fixture(scope="session")
def in_formulas(model: Model, tmp_path_factory: pytest.TempPathFactory, formulas: str) -> FormulasModel:
    """The blank workbook in the library `formulas`, whose loading takes half a minute: once for all tests."""
    path = tmp_path_factory.mktemp(formulas) / "blank.xlsx"
    fill(model, {}, path)
    loaded = FormulasModel(path)
    gc.freeze()  # its millions of objects live as long as the process: no search for dead ones goes through them again
    return loaded


@pytest.fixture(scope="session")
def in_ironcalc(model: Model, tmp_path_factory: pytest.TempPathFactory) -> IronCalcModel:
    """The blank workbook in the compiled library IronCalc."""
    path = tmp_path_factory.mktemp(_demand("ironcalc")) / "blank.xlsx"
    fill(model, {}, path)
    return IronCalcModel(path)


@pytest.fixture
def computed(model: Model, engine: str, request: pytest.FixtureRequest) -> Callable[[Typed, Path], Cells]:
    """The cells of a case in each engine, for what is typed and the file in which it stands."""
    if engine not in ("formulas", "ironcalc"):
        return lambda typed, path: recalculate([path], engine)[0]
    loaded = request.getfixturevalue(f"in_{engine}")
    return lambda typed, path: loaded.calculate({at(model, place): value for place, value in typed.items()})


class _ByFile(LoadScopeScheduling):
    """The tests of a file run in one process, for what they share; those of the library `formulas` all in one."""

    def _split_scope(self, nodeid: str) -> str:
        return "formulas" if _in_library(nodeid) else nodeid.partition("::")[0]

    def _reschedule(self, node: Any) -> None:
        if node.gateway.id == WAITS and self._next(node) is None:
            node.shutdown()
        else:
            super()._reschedule(node)

    def _assign_work_unit(self, node: Any) -> None:
        scope = self._next(node)
        if scope is not None:
            self.workqueue.move_to_end(scope, last=False)  # from the front the library takes it
            super()._assign_work_unit(node)

    def _next(self, node: Any) -> str | None:
        """The first scope for a process; the others take what waits only when nothing else is left."""
        waits = node.gateway.id == WAITS and len(self.nodes) > 1
        fitting = (scope for scope in self.workqueue if scope.startswith(SCREEN) == waits)
        return next(fitting, None if waits else next(iter(self.workqueue), None))


_LENGTH = {name: number for number, name in enumerate(LONG)}


def _about(item: pytest.Item) -> str:
    return item.path.stem.removeprefix("test_")


def _in_library(nodeid: str) -> bool:
    return "[formulas" in nodeid


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> LoadScopeScheduling:
    """Hands the tests out; the slowest group is first, so that it does not run alone at the end."""
    return _ByFile(config, log)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Marks the quick ones; the order is that of pytest_xdist_make_scheduler."""
    items.sort(key=lambda item: -1 if _in_library(item.nodeid) else _LENGTH.get(_about(item), len(LONG)))
    for item in items:
        chosen = _about(item) in QUICK or item.path.parent.name == "reference"
        if chosen and not SLOW & set(getattr(item, "fixturenames", ())):
            item.add_marker("quick")


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
