"""A formula written with names, split into its parts by openpyxl's tokenizer."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import Token, TokenizerError


@lru_cache(maxsize=1 << 14)  # every instance of a row asks again for the same formula
def parts(formula: str) -> tuple[Token, ...]:
    """The tokens of a formula without its leading equals sign. Raises TokenizerError for one that has no tokens."""
    try:
        return tuple(Tokenizer("=" + formula).items)
    except IndexError:  # the tokenizer's own word for a bracket too many
        raise TokenizerError("a bracket is closed but not opened") from None


def is_name(token: Token) -> bool:
    """Whether a token is a name (or would be a cell), not a number, text or function."""
    return token.type == Token.OPERAND and token.subtype == Token.RANGE


def names(formula: str) -> list[str]:
    """The names of a formula, once each, in order of appearance."""
    return list(dict.fromkeys(token.value for token in parts(formula) if is_name(token)))


def substitute(formula: str, change: Callable[[str], str]) -> str:
    """The formula with every name changed."""
    return "".join(change(token.value) if is_name(token) else token.value for token in parts(formula))


def rename(formula: str, name: str, new: str) -> str:
    """The formula with one plain name replaced by another."""
    return substitute(formula, lambda found: new if found == name else found)
