"""Formulas are short and flat, as FAST and ICAEW ask.

The aims are the house's own figures: no typed formula over 120 characters or with IF deeper than 2, none over 150 in
cells, where the letters of texts and of sheet titles are not counted.
"""

from __future__ import annotations

import pytest

from tests.support.lengths import depth, too_much, without_texts


@pytest.fixture(scope="module")
def found() -> dict[str, dict[str, int]]:
    """What is beyond the aims, with its figure."""
    return too_much()


@pytest.mark.parametrize("kind", ["typed", "deep", "cells"])
def test_no_formula_is_beyond_the_aims(found: dict[str, dict[str, int]], kind: str) -> None:
    assert found[kind] == {}


@pytest.mark.parametrize(
    ("formula", "deep"),
    [
        ("a_b+1", 0),
        ("IF(a_b=1,1,0)", 1),
        ('MAX(IF(a_b>IF(c_d=1,1,2),1,0),IF(c_d,1,""))', 2),
        ("IF(1,2,IF(1,2,IF(1,2,3)))", 3),
    ],
)
def test_depth_counts_what_stands_inside_one_another(formula: str, deep: int) -> None:
    assert depth(formula) == deep


def test_a_longer_text_or_title_is_no_longer_formula() -> None:
    short = 'IF(Start!B2="a",Start!B3,\'As read\'!B4&"x")'
    other = 'IF(\'The first sheet\'!B2="a longer ""word""",Start!B3,Inicio!B4&"")'
    assert without_texts(short) == without_texts(other) == 'IF(S!B2="",S!B3,S!B4&"")'
