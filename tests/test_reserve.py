"""A sample in the compiled library formualizer; `python -m tests.agree --engine formualizer` takes every case."""

from __future__ import annotations

from pathlib import Path

import pytest

from builder.engine.model import Model
from tests.support.filled import fill
from tests.support.reserve import recalculated
from tests.support.workbooks import differences, expected, typed_case
from tests.test_dialect import TRIALS, same_as_expected, trial_book  # noqa: F401  a fixture

SAMPLE = ("1-cone-both-eyes", "every-limit", "followup-five-visits")


@pytest.fixture(scope="module", autouse=True)
def _there() -> None:
    pytest.importorskip("formualizer", reason="engine missing: formualizer is not installed")


@pytest.mark.parametrize("case", SAMPLE)
def test_every_cell_is_as_the_reference_has_it(model: Model, case: str, tmp_path: Path) -> None:
    """Numbers to 1e-9 relative or absolute, words exactly."""
    path = tmp_path / "book.xlsx"
    fill(model, typed_case(case), path)
    found = differences(model, expected(model, [typed_case(case)])[0], recalculated(path))
    assert not found, "\n".join(found[:40])


def test_each_idiom_gives_the_expected_result(trial_book: Path) -> None:  # noqa: F811
    """The trials of the dialect."""
    values = recalculated(trial_book)
    wrong = [
        f"{text}: {values['Trials', f'A{row}']!r} instead of {wanted!r}"
        for row, (text, wanted) in enumerate(TRIALS, 1)
        if not same_as_expected(wanted, values["Trials", f"A{row}"])
    ]
    assert not wrong, "\n".join(wrong)
