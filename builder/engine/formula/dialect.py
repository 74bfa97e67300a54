"""The portable dialect: what a formula may say so that every engine reads it alike (each item tried in three)."""

from __future__ import annotations

import re
from collections.abc import Collection
from functools import lru_cache
from itertools import pairwise

from openpyxl.formula.tokenizer import Token

from builder.engine.spec.grammar import broken
from builder.engine.spec.texts import CAPITALS, GAPS, SIGNS
from builder.engine.spec.tokens import is_name, parts

_NAMES = """
    IF AND OR NOT ISNUMBER ISTEXT ISBLANK ABS SIGN MIN MAX SUM COUNT SQRT EXP LN SIN COS TAN ATAN ATAN2 RADIANS
    DEGREES PI ROUND MOD INDEX MATCH SUMPRODUCT FIXED UPPER LEFT LEN COUNTBLANK CHOOSE NORMSDIST NORMSINV FINV TINV
    MEDIAN AVERAGE STDEV VAR SUMSQ SMALL LARGE RANK PERCENTILE AVEDEV COVAR COUNTIF SUMIF AVERAGEIF TRIM SUBSTITUTE
"""
FUNCTIONS = frozenset(_NAMES.split())
ONLY_IN_THE_JUDGE = frozenset(("ISERROR", "ISLOGICAL"))
LITERALS = frozenset(["0", "0.5", "1", "2", "3", "4", "5", "90", "100", "180", "360", "1000"])
DIGITS_IN = ("ROUND", "FIXED", "INDEX", "LEFT")
LONGEST = 8000
TAKEN_OUT = {'""', '" "', *(f'"{sign}"' for sign in (*SIGNS, *CAPITALS)), *(f'"{" " * gap}"' for gap in GAPS)}
SEARCHED = {"MATCH": 0, "COUNTIF": 1, "SUMIF": 1, "AVERAGEIF": 1}  # which of their arguments is searched for
ARITHMETIC, SIGNS_OF = ("+", "-", "*", "/", "^"), (Token.OP_IN, Token.OP_PRE)
UNCLOSED = re.compile(r"(?<!LEN\()TRIM\((?!SUBSTITUTE\()|TRIM\(\w+\)\)(?!=0\b)", re.IGNORECASE)  # not of LEN(TRIM(x))=0
TEXT = re.compile(r'"(?:[^"]|"")*"')


def faults(formula: str, *, judge: bool = False) -> list[str]:
    """What in a formula with names is not of the dialect, each in words; an empty list is a clean formula."""
    wrong = broken(formula)
    if wrong:
        return [wrong]
    found = []
    calls: list[str] = []
    previous = closed = ""
    if UNCLOSED.search(formula):
        found.append("uses TRIM on a text with gaps: programs differ in what it does within a text; close them first")
    for token in parts(formula):
        value = token.value
        if token.type == Token.FUNC and token.subtype == Token.OPEN:
            name = value.rstrip("(").upper()
            calls.append(name)
            if name not in FUNCTIONS and not (judge and name in ONLY_IN_THE_JUDGE):
                found.append(f"uses the function {name}, which is not in the dialect")
        elif token.type == Token.PAREN and token.subtype == Token.OPEN:
            calls.append("")
        elif token.type in (Token.FUNC, Token.PAREN) and token.subtype == Token.CLOSE:
            closed = calls.pop()
            if closed == "MATCH" and previous != "0":
                found.append("searches by MATCH without a last 0: what it finds in a list that is not sorted differs")
        elif token.type == Token.OPERAND and token.subtype == Token.NUMBER and value not in LITERALS:
            counted = closed == "COUNT" and previous in ("=", "<", ">")  # how many of the names counted are there
            if not ((calls and calls[-1] in DIGITS_IN) or counted):
                found.append(f"holds the number {value}; give it a constant with unit and source")
        elif token.type == Token.OPERAND and token.subtype == Token.TEXT and value not in _texts(calls):
            found.append(f"holds the text {value}; cite a word")
        elif token.type == Token.OPERAND and token.subtype == Token.LOGICAL and calls[-1:] != ["FIXED"]:
            found.append("yields TRUE or FALSE; use 1 and 0")
        elif token.type == Token.OP_PRE and value == "-" and previous == "^":
            found.append("has a power of a negative without brackets")
        if token.type == Token.OP_IN and value == "^" and formula.startswith("-"):
            found.append("has a leading minus before a power; use brackets")
        if token.type not in (Token.WSPACE, Token.OP_IN, Token.FUNC, Token.PAREN):
            closed = ""
        if token.type != Token.WSPACE:
            previous = value
    return found


@lru_cache(maxsize=1 << 14)  # the instances of a row share their formula
def bare_sides(formula: str) -> tuple[str, ...]:
    """The names that stand alone beside = or <>; not where the other side is a number computed from the same name."""
    tokens = [token for token in parts(formula) if token.type != Token.WSPACE]
    found = []
    for before, sign, after in zip(tokens, tokens[1:], tokens[2:], strict=False):
        if sign.type == Token.OP_IN and sign.value in ("=", "<>") and after.value != "ROUND(":
            found += [side.value for side in (before, after) if is_name(side)]
    return tuple(found)


@lru_cache(maxsize=1 << 14)
def searched_for(formula: str) -> tuple[str, ...]:
    """The names that MATCH, or a function that counts or adds up what is like them, searches for as they are."""
    found: list[str] = []
    calls = [("", 0)]  # the functions that are open, each with the arguments that were passed
    for token in parts(formula):
        if token.subtype == Token.OPEN:
            calls.append((token.value.upper().rstrip("("), 0))
        elif token.subtype == Token.CLOSE:
            calls.pop()
        elif token.type == Token.SEP:
            calls[-1] = calls[-1][0], calls[-1][1] + 1
        elif is_name(token) and SEARCHED.get(calls[-1][0]) == calls[-1][1]:
            found.append(token.value)
    return tuple(found)


@lru_cache(maxsize=1 << 14)
def calculated_with(formula: str) -> tuple[str, ...]:
    """The names that stand beside a sign of arithmetic."""
    tokens = [token for token in parts(formula) if token.type != Token.WSPACE]
    beside = [pair for pair in pairwise(tokens) if any(t.value in ARITHMETIC and t.type in SIGNS_OF for t in pair)]
    return tuple(token.value for pair in beside for token in pair if is_name(token))


def _texts(calls: list[str]) -> Collection[str]:
    """The texts that may be typed into a formula here: spaces and search signs only to be taken out."""
    return TAKEN_OUT if calls[-1:] == ["SUBSTITUTE"] else ('""',)


def length_of_texts(formula: str) -> int:
    """The longest text inside a written formula (255 is the file format's limit)."""
    return max((len(text) - 2 for text in TEXT.findall(formula)), default=0)
