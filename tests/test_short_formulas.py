"""Formulas are short and flat, as FAST and ICAEW ask; what is not yet so is listed, and the list only shrinks.

The aims are the house's own figures: no typed formula over 120 characters or with IF deeper than 2, none over 150 in
cells, where the letters of texts and of sheet titles are not counted. `python -m tests.test_short_formulas` writes
the list anew, which is right only when it became shorter.
"""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from tests.support.lengths import depth, too_much, without_texts

LISTED = Path(__file__).parent / "long_formulas.toml"
AT_MOST = {"typed": 0, "deep": 0, "cells": 20}  # the list may hold; never raise it
HEAD = "# Formulas beyond the aims of test_short_formulas.py, with their figure. The list only shrinks.\n"


@pytest.fixture(scope="module")
def found() -> dict[str, dict[str, int]]:
    """What is beyond the aims now."""
    return too_much()


def listed() -> dict[str, dict[str, int]]:
    """What may be beyond them."""
    return tomllib.loads(LISTED.read_text("utf-8"))


@pytest.mark.parametrize("kind", AT_MOST)
def test_no_formula_is_beyond_the_aims_but_those_listed(found: dict[str, dict[str, int]], kind: str) -> None:
    known = listed()[kind]
    assert {key: size for key, size in found[kind].items() if size > known.get(key, 0)} == {}


@pytest.mark.parametrize("kind", AT_MOST)
def test_the_list_only_shrinks(found: dict[str, dict[str, int]], kind: str) -> None:
    """A formula that became short leaves the list, and no other takes its place."""
    known = listed()[kind]
    assert sorted(known.keys() - found[kind].keys()) == []
    assert len(known) <= AT_MOST[kind]


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


def written(found: dict[str, dict[str, int]]) -> str:
    """The list as a file."""
    tables = (
        "\n".join([f"\n[{kind}]", *(f"{json.dumps(key)} = {size}" for key, size in sorted(table.items()))])
        for kind, table in found.items()
    )
    return HEAD + "\n".join(tables) + "\n"


if __name__ == "__main__":
    LISTED.write_text(written(too_much()), "utf-8")
