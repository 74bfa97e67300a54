"""The loan book of tests/loan: its specs in a folder of their own, loans typed into it, what is owed."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path

from builder.engine.exchange.fill import fill_many
from builder.engine.layout import Place
from builder.engine.model import Model
from builder.engine.spec.reading import SPECS

HOME = Path(__file__).resolve().parents[1] / "loan"
YEARS = 10
LOANS = {  # what is typed
    "at the end": {"principal": 10_000.0, "yearly_rate": 5.0},
    "at the start": {"principal": 10_000.0, "yearly_rate": 5.0, "payment_time": "At start"},
    "without interest": {"principal": 10_000.0, "yearly_rate": 0.0},
    "dear": {"principal": 10_000.0, "yearly_rate": 25.0},
    "refused": {"principal": 10_000.0, "yearly_rate": 51.0},
}


def copied_loan(folder: Path) -> Path:
    """Its specs, with the looks of the house."""
    specs = folder / "specs"
    shutil.copytree(HOME, specs)
    shutil.copy(SPECS / "styles.toml", specs)
    return specs


def typed_loan(loan: Model, given: Mapping[str, object]) -> dict[Place, object]:
    """The typed cells of a loan."""
    return {loan.layout.cells("book", f"typed_{key}")["", "book"].place: value for key, value in given.items()}


def fill_loans(loan: Model, folder: Path) -> dict[str, Path]:
    """A file of each loan, its results stored."""
    written = {name: folder / f"{name}.xlsx" for name in LOANS}
    fill_many(loan, [(typed_loan(loan, LOANS[name]), path) for name, path in written.items()])
    return written


def owed(principal: float, rate: float, at_start: bool) -> tuple[float, list[float]]:
    """The payment, and what is owed after each year: interest on what is owed while the year runs."""
    growth = 1 + rate / 100
    payment = principal / (sum(growth**-year for year in range(1, YEARS + 1)) * (growth if at_start else 1))
    after, rest = [], principal
    for _ in range(YEARS):
        rest = (rest - payment) * growth if at_start else rest * growth - payment
        after.append(rest)
    return payment, after
