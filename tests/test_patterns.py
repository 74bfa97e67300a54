"""Patterns of formulas: spelt out as arithmetic wants it, refused in clear words, and none of them idle."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from builder.engine.spec.errors import SpecError
from builder.engine.spec.patterns import Patterns, read_patterns, spelt_out, spelt_out_in
from builder.engine.spec.reading import SPECS, read_toml
from builder.planner.books import PLAN, REGISTER
from tests.support.lengths import typed

PATTERNS = """
[[pattern]]
key = "half"
takes = ["one"]
formula = "one/2"
about = "Half of it."

[[pattern]]
key = "between"
takes = ["one", "other"]
formula = "half(one+other)"
about = "Their mean."

[[pattern]]
key = "at_most"
takes = ["number", "limit"]
formula = "number<=limit+slack"
about = "Not above."
"""


@pytest.fixture
def patterns(tmp_path: Path) -> Patterns:
    """Three, of which one calls another."""
    (tmp_path / "patterns.toml").write_text(PATTERNS, encoding="utf-8")
    return read_patterns(tmp_path / "patterns.toml")


@pytest.mark.parametrize(
    ("called", "spelt"),
    [
        ("half(a_b)", "a_b/2"),
        ("half(a_b+c_d)", "(a_b+c_d)/2"),
        ("half(a_b*c_d)", "a_b*c_d/2"),
        ("half(MAX(a_b,c_d))", "MAX(a_b,c_d)/2"),
        ("half(-a_b)", "(-a_b)/2"),
        ("1+half(a_b)", "1+a_b/2"),
        ("1/half(a_b)", "1/(a_b/2)"),
        ("half(a_b)^2", "(a_b/2)^2"),
        ("-half(a_b)", "-(a_b/2)"),
        ("MAX(half(a_b),half(half(c_d)))", "MAX(a_b/2,c_d/2/2)"),
        ("between(a_b,c_d-1)", "(a_b+(c_d-1))/2"),
        ("between(a_b,c_d)-1", "(a_b+c_d)/2-1"),
        ('IF(at_most(a_b,1),"half(x)",half(c_d))', 'IF(a_b<=1+slack,"half(x)",c_d/2)'),
        ("AND(at_most(a_b-1,c_d),1=1)", "AND(a_b-1<=c_d+slack,1=1)"),
        ("half(#_b-#.c_#)", "(#_b-#.c_#)/2"),
        ("right.half_of+HALF(2)", "right.half_of+HALF(2)"),
    ],
)
def test_it_stands_spelt_out_with_the_brackets_that_it_needs(patterns: Patterns, called: str, spelt: str) -> None:
    assert spelt_out("a.toml", "a_row", called, patterns) == spelt


def test_all_texts_of_a_table_are_spelt_out(patterns: Patterns) -> None:
    table = {
        "block": [{"key": "b", "rows": [{"key": "r", "formulas": {"x": "half(a)"}, "first_of": [["half(b)", 1]]}]}]
    }
    row = spelt_out_in("a.toml", table, patterns)["block"][0]["rows"][0]
    assert row == {"key": "r", "formulas": {"x": "a/2"}, "first_of": [["b/2", 1]]}


@pytest.mark.parametrize(
    ("called", "told"),
    [
        ("halff(a_b)", "a_row.*halff.*no pattern.*half"),
        ("half(a_b,c_d)", "2 arguments to 'half'.*takes 1: one"),
        ("between(a_b)", "1 arguments to 'between'.*takes 2: one, other"),
    ],
)
def test_a_wrong_call_is_told_with_file_and_key(patterns: Patterns, called: str, told: str) -> None:
    with pytest.raises(SpecError, match=re.compile(f"a.toml.*{told}", re.DOTALL)):
        spelt_out_in("a.toml", {"key": "a_row", "formula": called}, patterns)


@pytest.mark.parametrize(
    ("was", "new", "told"),
    [
        ('takes = ["one"]', 'takes = ["one", "two"]', "half.*takes 'two' and does not use it"),
        ('key = "between"', 'key = "half"', "half.*given twice"),
        ('key = "between"', 'key = "Between"', "Between.*no name in small letters"),
        ("half(one+other)", "later(one+other)", "between.*calls 'later', which is no pattern"),
        ('about = "Their mean."', "", "between.*has no 'about'"),
    ],
)
def test_a_wrong_pattern_is_refused(tmp_path: Path, was: str, new: str, told: str) -> None:
    assert was in PATTERNS
    (tmp_path / "patterns.toml").write_text(PATTERNS.replace(was, new, 1), encoding="utf-8")
    with pytest.raises(SpecError, match=re.compile(told, re.DOTALL)):
        read_patterns(tmp_path / "patterns.toml")


def test_each_pattern_of_the_house_is_called_more_than_once() -> None:
    homes = {SPECS / read_toml(SPECS / book / "workbook.toml")["patterns"] for book in (PLAN, REGISTER)}
    called = "\n".join(formula for _, formula in typed())
    found = {key: len(re.findall(rf"\b{key}\(", called)) for home in homes for key in read_patterns(home)}
    assert found and {key: times for key, times in found.items() if times < 2} == {}


def test_slack_is_left_to_the_patterns_where_two_numbers_are_compared() -> None:
    """A limit's slack is written once; by hand it stands only beside 0 and within a sum or a product."""
    by_hand = re.compile(r"[(,]\w+(?:<=?|>=?)\w+[+-]rounding_slack[,)]")
    assert [key for key, formula in typed() if by_hand.search(f"({formula})")] == []
