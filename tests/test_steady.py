"""Numbers whose last shown digit would turn on noise are rounded far behind it, in the cell and in what is stored."""

from __future__ import annotations

import pytest

from builder.engine.formula.steady import steady
from builder.engine.spec.model import Row
from builder.engine.values import stored
from tests.support.shown_apart import shown_apart


@pytest.mark.parametrize(
    ("formula", "rounded"),
    [
        ("(k_flat+k_steep)/2", "ROUND((k_flat+k_steep)/2,11)"),
        ("k_flat", "k_flat"),  # shows another cell, which is rounded or need not be
        ("INDEX(all.k_flat,1,2)", "INDEX(all.k_flat,1,2)"),
        ("ROUND(k_flat,2)", "ROUND(k_flat,2)"),
        ("ROUND(k_flat,2)*2", "ROUND(ROUND(k_flat,2)*2,11)"),
        ('IF(k_flat>0,k_flat-k_steep,"")', 'IF(k_flat>0,ROUND(k_flat-k_steep,11),"")'),
        ("IF(k_flat>0,1,2)*k_flat", "ROUND(IF(k_flat>0,1,2)*k_flat,11)"),
        ("CHOOSE(at_one,MAX(0,k_flat),k_flat)", "CHOOSE(at_one,ROUND(MAX(0,k_flat),11),k_flat)"),
    ],
)
def test_what_is_computed_is_rounded_and_what_is_shown_is_not(formula: str, rounded: str) -> None:
    """Branch by branch, so that an empty text stays one."""
    assert steady(formula, 11) == rounded


def test_what_is_stored_is_rounded_as_the_cell_is() -> None:
    assert stored(0.97499999999999431, 13) == 0.975
    assert str(stored(-3e-13, 11)) == "0.0"
    assert stored(-3e-13) == 0.0 and stored(2e-11) == 2e-11


@pytest.mark.parametrize(
    ("style", "decimals", "one", "other", "apart"),
    [
        ("", 2, 0.975, 0.97499999999999431, True),
        ("", 2, 0.975, 0.975, False),
        ("", 2, 0.98, 0.98000000000000043, False),
        ("signed", 2, 0.0, 2e-16, True),
        ("", 2, 0.0, 2e-16, False),
        ("percent", 0, 0.125, 0.12500000000000003, True),
    ],
)
def test_two_numbers_may_be_shown_apart(style: str, decimals: int, one: float, other: float, apart: bool) -> None:
    assert shown_apart(Row(key="some_row", file="x", style=style, decimals=decimals), one, other) is apart
