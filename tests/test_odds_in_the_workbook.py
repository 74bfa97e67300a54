"""Laws of the odds that must hold on the sheet itself, for every case."""

import numpy as np

from builder.engine.model import Model
from builder.planner.values import evaluate_cases
from tests.support.workbooks import case_files, typed_case


def test_shares_of_the_error_add_to_one(model: Model) -> None:
    """Where there is an error budget, its shares make the whole."""
    values = evaluate_cases(model, [typed_case(name) for name in case_files()])
    shares = values.get("parts", "part_share").sum(axis=-1)
    known = ~np.isnan(shares)
    assert known.sum() > 20
    assert np.allclose(shares[known], 1)


def test_wider_candidates_never_raise_the_chance_within(model: Model) -> None:
    """The uncertainty of K follows half the spread of the candidates, never below the band's own."""
    values = evaluate_cases(model, [typed_case(name) for name in case_files()])
    doubt, spread = values.get("eyes", "sd_cornea"), values.get("eyes", "range_spread")
    known = ~np.isnan(doubt)
    assert (doubt[known] >= np.nan_to_num(spread[known]) / 2 - 1e-12).all()  # no candidate, no spread
    assert (doubt[known] >= 0.25).all()
