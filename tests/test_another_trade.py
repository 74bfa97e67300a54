"""The engine alone, on a workbook of another trade: a loan repaid in ten equal yearly payments, from specs of its own.

Payments: those of the tables of annuities, for a loan of one (factor 7.7217 for ten payments at 5 percent), worked on
to the cent by the plain equation below. Of the product nothing is imported; the looks are those of the house.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from builder.engine.exchange.engines import recalculate
from builder.engine.model import Model, constant_value, load_model
from builder.engine.spec.lists import ONCE, read_about
from builder.engine.spec.reading import SPECS
from tests.support.loans import LOANS, YEARS, copied_loan, fill_loans, owed

FACTOR = 7.7217  # of ten payments at the end of the year, at 5 percent: tables of annuities, four decimals


@pytest.fixture(scope="module")
def loan(tmp_path_factory: pytest.TempPathFactory) -> Model:
    """The workbook, built from its specs."""
    return load_model("loan", specs=copied_loan(tmp_path_factory.mktemp("loan")))


@pytest.fixture(scope="module")
def files(loan: Model, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A file of each loan, its results stored by the witness."""
    return fill_loans(loan, tmp_path_factory.mktemp("loans"))


def seen(loan: Model, cells: Mapping[tuple[str, str], object], list_name: str, key: str) -> list[object]:
    """The cells of a row in a file, instance by instance."""
    return [cells.get(loan.at(slot.place)) for slot in loan.layout.cells(list_name, key).values()]


def test_the_payment_is_that_of_the_tables() -> None:
    payment, after = owed(10_000, 5, False)
    assert payment == pytest.approx(10_000 / FACTOR, rel=1e-5)
    assert after[-1] == pytest.approx(0, abs=1e-8)


def test_a_workbook_of_another_trade_has_neither_sides_nor_a_reference(loan: Model) -> None:
    assert (loan.spec.sides.keys, loan.spec.reference, loan.spec.once) == ((), "", ONCE)
    assert len(loan.layout.cells("years", "owed_after")) == YEARS


def test_roles_are_said_and_not_spelt(loan: Model) -> None:
    """The rows of the edition and of the frozen lines are called otherwise than the product calls them, and serve."""
    told = read_about(loan.spec.home / "loan")
    house = read_about(SPECS / "plan")
    assert told["edition"] != house["edition"] and not set(told["head"].values()) & set(house["head"].values())
    assert constant_value(loan.spec, loan.layout.cells("book", told["edition"])["", "book"].row, "book", "1", "") == "1"
    for sheet in loan.spec.sheets:
        assert {row.echo for row in loan.layout.block_of[f"{sheet.key}_head"].rows} == set(told["head"].values())


@pytest.mark.parametrize("name", [name for name in LOANS if name != "refused"])
def test_every_program_computes_the_loan(loan: Model, files: Mapping[str, Path], engine: str, name: str) -> None:
    """And so does the witness, whose values are stored."""
    given = LOANS[name]
    payment, after = owed(float(given["principal"]), float(given["yearly_rate"]), "payment_time" in given)
    for source in ("stored", engine):
        cells = recalculate([files[name]], source)[0]
        assert seen(loan, cells, "book", "yearly_payment") == [pytest.approx(payment, rel=1e-9)], source
        assert seen(loan, cells, "years", "owed_after") == [pytest.approx(rest, abs=1e-6) for rest in after], source


def test_a_rate_beyond_its_limits_is_refused(loan: Model, files: Mapping[str, Path], engine: str) -> None:
    cells = recalculate([files["refused"]], engine)[0]
    assert seen(loan, cells, "book", "state_yearly_rate") == [loan.spec.words.get("word", "out_of_limits")]
    assert seen(loan, cells, "book", "yearly_payment") == [None]
    assert set(seen(loan, cells, "years", "owed_after")) == {None}


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("at the end", []),
        ("dear", ["Yearly rate is dear. See Loan B7"]),
        ("refused", ["Yearly rate: out of limits. Type it again in Loan B7"]),
    ],
)
def test_what_holds_a_loan_back_is_said(
    loan: Model, files: Mapping[str, Path], engine: str, name: str, said: list[str]
) -> None:
    """The points of a workbook without sides, under the name of its own list of what is there once."""
    cells = recalculate([files[name]], engine)[0]
    assert [text for text in seen(loan, cells, "book_points", "book_point_sentence") if text] == said
    assert sum(seen(loan, cells, "book_points", "book_point_live")) == len(said)
    assert "book_reasons" in {slot.row.publish for slot in loan.layout.slots}
