"""The engine alone, on a workbook of another trade: a loan repaid in ten equal yearly payments, from specs of its own.

Payments: those of the tables of annuities, for a loan of one (factor 7.7217 for ten payments at 5 percent), worked on
to the cent by the plain equation below. Of the product nothing is imported; the looks are those of the house.
"""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path

import pytest

from builder.engine.exchange.engines import recalculate
from builder.engine.exchange.fill import fill_many
from builder.engine.layout import Place
from builder.engine.model import Model, load_model
from builder.engine.spec.reading import SPECS

SPECS_OF_LOAN = Path(__file__).with_name("loan")
YEARS = 10
FACTOR = 7.7217  # of ten payments at the end of the year, at 5 percent: tables of annuities, four decimals
LOANS = {  # what is typed
    "at the end": {"principal": 10_000.0, "yearly_rate": 5.0},
    "at the start": {"principal": 10_000.0, "yearly_rate": 5.0, "payment_time": "At start"},
    "without interest": {"principal": 10_000.0, "yearly_rate": 0.0},
    "refused": {"principal": 10_000.0, "yearly_rate": 51.0},
}


@pytest.fixture(scope="module")
def loan(tmp_path_factory: pytest.TempPathFactory) -> Model:
    """The workbook, built from its specs."""
    specs = tmp_path_factory.mktemp("loan") / "specs"
    shutil.copytree(SPECS_OF_LOAN, specs)
    shutil.copy(SPECS / "styles.toml", specs)
    return load_model("loan", specs=specs)


@pytest.fixture(scope="module")
def files(loan: Model, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A file of each loan, its results stored by the witness."""
    folder = tmp_path_factory.mktemp("loans")
    written = {name: folder / f"{name}.xlsx" for name in LOANS}
    fill_many(loan, [(_typed(loan, LOANS[name]), path) for name, path in written.items()])
    return written


def _typed(loan: Model, given: Mapping[str, object]) -> dict[Place, object]:
    return {loan.layout.cells("plan", f"typed_{key}")["", "plan"].place: value for key, value in given.items()}


def owed(principal: float, rate: float, at_start: bool) -> tuple[float, list[float]]:
    """The payment, and what is owed after each year: interest on what is owed while the year runs."""
    growth = 1 + rate / 100
    payment = principal / (sum(growth**-year for year in range(1, YEARS + 1)) * (growth if at_start else 1))
    after, rest = [], principal
    for _ in range(YEARS):
        rest = (rest - payment) * growth if at_start else rest * growth - payment
        after.append(rest)
    return payment, after


def seen(loan: Model, cells: Mapping[tuple[str, str], object], list_name: str, key: str) -> list[object]:
    """The cells of a row in a file, instance by instance."""
    return [cells.get(loan.at(slot.place)) for slot in loan.layout.cells(list_name, key).values()]


def test_the_payment_is_that_of_the_tables() -> None:
    payment, after = owed(10_000, 5, False)
    assert payment == pytest.approx(10_000 / FACTOR, rel=1e-5)
    assert after[-1] == pytest.approx(0, abs=1e-8)


def test_a_workbook_of_another_trade_has_neither_sides_nor_a_reference(loan: Model) -> None:
    assert (loan.spec.sides.keys, loan.spec.reference, loan.spec.points) == ((), "", ())
    assert len(loan.layout.cells("years", "owed_after")) == YEARS


@pytest.mark.parametrize("name", [name for name in LOANS if name != "refused"])
def test_every_program_computes_the_loan(loan: Model, files: Mapping[str, Path], engine: str, name: str) -> None:
    """And so does the witness, whose values are stored."""
    given = LOANS[name]
    payment, after = owed(float(given["principal"]), float(given["yearly_rate"]), "payment_time" in given)
    for source in ("stored", engine):
        cells = recalculate([files[name]], source)[0]
        assert seen(loan, cells, "plan", "yearly_payment") == [pytest.approx(payment, rel=1e-9)], source
        assert seen(loan, cells, "years", "owed_after") == [pytest.approx(rest, abs=1e-6) for rest in after], source


def test_a_rate_beyond_its_limits_is_refused(loan: Model, files: Mapping[str, Path], engine: str) -> None:
    cells = recalculate([files["refused"]], engine)[0]
    assert seen(loan, cells, "plan", "state_yearly_rate") == [loan.spec.words.get("word", "out_of_limits")]
    assert seen(loan, cells, "plan", "yearly_payment") == [None]
    assert set(seen(loan, cells, "years", "owed_after")) == {None}
