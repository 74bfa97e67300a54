"""When two formulas mean the same although programs write them differently.

Programs add spaces, change the case of functions, write TRUE as TRUE(), A1 as $A$1 or A1:A1, 0.10 as 0.1, drop or add
quotes around sheet names and prefixes before newer functions, and give functions their newer names. Anything else is a
change.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache

from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import Token, TokenizerError

from builder.engine.addresses import PLAIN

_PREFIXES = re.compile(r"^(_XLFN\.|_XLWS\.)+")
_PLAIN_SHEET = re.compile(r"^'([^\W\d][\w.]*)'!")  # letters of any language: programs write Córnea!B2 without quotes
# Newer names of functions of the dialect that programs write in their stead; each is the same by its definition.
_NEWER = {
    "STDEV.S": "STDEV",
    "VAR.S": "VAR",
    "COVARIANCE.P": "COVAR",
    "PERCENTILE.INC": "PERCENTILE",
    "RANK.EQ": "RANK",
    "NORM.S.INV": "NORMSINV",
    "F.INV.RT": "FINV",
    "T.INV.2T": "TINV",
}
_QUOTED = re.compile(r"\"[^\"]*\"|'([^\W\d][\w.]*)'!")  # texts come first, which may hold the like
_ONE_CELL = re.compile(rf"^({PLAIN}):\1$")
LONGEST_READ = 8192  # letters of a formula that a program can hold


def same_formula(one: str, other: str) -> bool:
    """Whether two formulas (without the equals sign) mean the same in the same cell."""
    return one == other or _unquoted(one) == _unquoted(other) or meaning(one) == meaning(other)


def _unquoted(formula: str) -> str:
    """A formula without the quotes that a sheet's name does not need: the one difference that there is in thousands."""
    return _QUOTED.sub(lambda found: f"{found[1]}!" if found[1] else found[0], formula) if "'" in formula else formula


@lru_cache(maxsize=1 << 14)
def meaning(formula: str) -> tuple[str, ...]:
    """The parts of a formula, each in one way of writing; the formula itself where it cannot be split."""
    if len(formula) > LONGEST_READ:
        return (formula,)
    try:
        return tuple(_parts(Tokenizer("=" + formula).items))
    except (TokenizerError, IndexError, AssertionError, ValueError):
        return (formula,)


def _parts(tokens: list[Token]) -> Iterator[str]:
    closing = False  # the closing bracket of TRUE()
    for token, after in zip(tokens, [*tokens[1:], None], strict=True):
        if token.type == Token.WSPACE:
            continue
        if closing:
            closing = False
        elif token.type == Token.FUNC and token.subtype == Token.OPEN:
            name = _PREFIXES.sub("", token.value.upper())
            name = _NEWER.get(name[:-1], name[:-1]) + "("
            closing = name in ("TRUE(", "FALSE(") and after is not None and after.subtype == Token.CLOSE
            yield name[:-1] if closing else name
        elif token.type == Token.OPERAND and token.subtype == Token.RANGE:
            yield _area(token.value)
        elif token.type == Token.OPERAND and token.subtype == Token.NUMBER:
            yield f"{float(token.value)!r}"
        elif token.type == Token.OPERAND and token.subtype == Token.LOGICAL:
            yield token.value.upper()
        else:
            yield token.value


def _area(text: str) -> str:
    sheet, mark, cells = text.rpartition("!")
    cells = _ONE_CELL.sub(r"\1", cells.replace("$", "").upper())
    return _PLAIN_SHEET.sub(r"\1!", sheet + mark) + cells


def same_value(expected: object, found: object) -> bool:
    """Whether a fixed value is still there: texts letter by letter, numbers to the 15 digits that programs keep."""
    if isinstance(expected, int | float) and isinstance(found, float) and not isinstance(found, bool):
        return abs(expected - found) <= 1e-14 * abs(expected)
    if isinstance(expected, str) and isinstance(found, str):
        return expected.replace("\r\n", "\n") == found.replace("\r\n", "\n")
    return expected == found and type(expected) is type(found)
