"""Rounds what a cell shows far behind its last shown digit: noise is 0 then, and a tie falls alike in every program.

What two programs compute, or a program and what is stored, differs in the last bits; of 0.975 shown with two decimals
one would show 0.97 and the other 0.98, and of a noise of 1e-16 one would show +0.00 and the other 0.00.
"""

from __future__ import annotations

from functools import lru_cache

from openpyxl.formula.tokenizer import Token

from builder.engine.spec.tokens import is_name, parts

PICKING = "INDEX"  # hands over a cell as it is, and so an empty one
ROUNDED = "ROUND"


@lru_cache(maxsize=1 << 12)  # the instances of a row share their formula
def steady(formula: str, digits: int) -> str:
    """A formula in names that rounds to so many decimals; what only shows a cell, or nothing, is left as it is."""
    tokens = [token for token in parts(formula) if token.type != Token.WSPACE]
    if len(tokens) == 1 and (is_name(tokens[0]) or tokens[0].value == '""'):
        return formula
    name, arguments = call(formula)
    if name == "IF" or name == "CHOOSE":
        return f"{name}({','.join([arguments[0], *(steady(branch, digits) for branch in arguments[1:])])})"
    return formula if name in (PICKING, ROUNDED) else f"{ROUNDED}({formula},{digits})"


def call(formula: str) -> tuple[str, list[str]]:
    """The function that a whole formula is a call of, and what it is given; "" when it is more, or no call."""
    tokens = parts(formula)
    depth, arguments = 0, [""]
    if tokens[0].type != Token.FUNC:
        return "", []
    for number, token in enumerate(tokens[1:], start=1):
        depth += (token.subtype == Token.OPEN) - (token.subtype == Token.CLOSE)
        if depth < 0:
            return (tokens[0].value[:-1].upper(), arguments) if number == len(tokens) - 1 else ("", [])
        if token.type == Token.SEP and not depth:
            arguments.append("")
        else:
            arguments[-1] += token.value
    return "", []
