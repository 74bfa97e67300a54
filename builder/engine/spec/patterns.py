"""Patterns of formulas: what many rows compute alike is written once, with a name, and stands in each cell spelt out.

A pattern is called like a function, in small letters: `at_most(paid,limit)`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from openpyxl.formula.tokenizer import Token, TokenizerError

from builder.engine.spec.errors import SpecError, nearest
from builder.engine.spec.reading import demand, only, read_toml
from builder.engine.spec.tokens import is_name, parts

PATTERN = ("key", "takes", "formula", "about")
STRENGTH = (("=", "<>", "<", ">", "<=", ">="), ("&",), ("+", "-"), ("*", "/"), ("^",), ("%",))  # the least first
EACH = "§"  # for the # of a row set, which the tokenizer takes for an error value
_CALL = re.compile(r"(?<![\w.$])([a-z][a-z0-9_]*)\(")
_CALLED = re.compile(r"[a-z][a-z0-9_]*\(")


class Pattern(NamedTuple):
    """What it takes, and the formula in which these names stand for what is given; itself without any pattern."""

    takes: tuple[str, ...]
    formula: str


Patterns = Mapping[str, Pattern]


def read_patterns(path: Path) -> Patterns:
    """The patterns of a file; one may call those above it. Raises SpecError."""
    found: dict[str, Pattern] = {}
    for entry in read_toml(path).get("pattern", []):
        key = str(entry.get("key", "?"))
        demand(path.name, key, entry, PATTERN)
        only(path.name, key, entry, PATTERN)
        if not _CALLED.fullmatch(f"{key}(") or key in found:
            wrong = "is given twice" if key in found else "is no name in small letters"
            raise SpecError(path.name, key, wrong, "Give each pattern a name of its own, such as apart_by")
        formula = spelt_out(path.name, key, str(entry["formula"]), found)
        idle = [name for name in entry["takes"] if name not in [t.value for t in parts(formula) if is_name(t)]]
        if idle:
            raise SpecError(path.name, key, f"takes '{idle[0]}' and does not use it", "Use it in its formula")
        found[key] = Pattern(tuple(entry["takes"]), formula)
    return found


def spelt_out_in(file: str, table: Any, patterns: Patterns, key: str = "?") -> Any:
    """A table of specs with every text in it spelt out. Raises SpecError with the key of its entry."""
    if isinstance(table, dict):
        key = str(table.get("key", key))
        return {name: spelt_out_in(file, value, patterns, key) for name, value in table.items()}
    if isinstance(table, list):
        return [spelt_out_in(file, value, patterns, key) for value in table]
    return spelt_out(file, key, table, patterns) if isinstance(table, str) else table


def spelt_out(file: str, key: str, formula: str, patterns: Patterns) -> str:
    """A formula with each pattern in it spelt out. Raises SpecError."""
    if not _CALL.search(formula):
        return formula
    try:
        tokens = parts(formula.replace("#", EACH))
    except TokenizerError:
        return formula  # told where the formula is compiled
    return "".join(_spelt(file, key, tokens, patterns)).replace(EACH, "#")


def _spelt(file: str, key: str, tokens: Sequence[Token], patterns: Patterns) -> Iterator[str]:
    at = 0
    while at < len(tokens):
        token = tokens[at]
        if token.type != Token.FUNC or not _CALLED.fullmatch(token.value):
            yield token.value
            at += 1
            continue
        name, end = token.value[:-1], _end(tokens, at)
        if name not in patterns:
            raise SpecError(file, key, f"calls '{name}', which is no pattern", nearest(name, patterns))
        given = ["".join(_spelt(file, key, part, patterns)) for part in _arguments(tokens[at + 1 : end])]
        takes = patterns[name].takes
        if len(given) != len(takes):
            wrong = f"gives {len(given)} arguments to '{name}'"
            raise SpecError(file, key, wrong, f"It takes {len(takes)}: {', '.join(takes)}")
        yield _in_place(tokens, at, end, _put(patterns[name], dict(zip(takes, given, strict=True))))
        at = end + 1


def _end(tokens: Sequence[Token], at: int) -> int:
    """Where the bracket closes that a function opens."""
    depth = 0
    for number in range(at, len(tokens)):
        depth += (tokens[number].subtype == Token.OPEN) - (tokens[number].subtype == Token.CLOSE)
        if depth == 0:
            return number
    return len(tokens)


def _arguments(tokens: Sequence[Token]) -> list[Sequence[Token]]:
    """What stands between the commas of a function."""
    found: list[list[Token]] = [[]]
    depth = 0
    for token in tokens:
        depth += (token.subtype == Token.OPEN) - (token.subtype == Token.CLOSE)
        if token.type == Token.SEP and depth == 0:
            found.append([])
        else:
            found[-1].append(token)
    return [part for part in found if part or len(found) > 1]


def _put(pattern: Pattern, given: Mapping[str, str]) -> str:
    """The formula of a pattern with what is given in place of what it takes."""
    tokens = parts(pattern.formula)
    return "".join(
        _in_place(tokens, at, at, given[token.value]) if is_name(token) and token.value in given else token.value
        for at, token in enumerate(tokens)
    )


def _in_place(tokens: Sequence[Token], first: int, last: int, text: str) -> str:
    """A text in place of these tokens: in brackets where the operators beside it would take it apart."""
    loosest = _loosest(text)
    before = _strength(tokens[first - 1], close=True) if first else 0
    after = _strength(tokens[last + 1]) if last + 1 < len(tokens) else 0
    return f"({text})" if loosest <= before or loosest < after else text


def _loosest(text: str) -> int:
    """The strength of the operator that binds least of those outside all brackets."""
    depth, found = 0, len(STRENGTH)
    for token in parts(text):
        depth += (token.subtype == Token.OPEN) - (token.subtype == Token.CLOSE)
        if depth == 0 and _strength(token):
            found = min(found, _strength(token))
    return found


def _strength(token: Token, close: bool = False) -> int:
    """How strongly an operator binds, from 1; 0 of what is none. `close`: to what follows, where a sign binds most."""
    if close and token.type == Token.OP_PRE:
        return len(STRENGTH)
    if token.type not in (Token.OP_IN, Token.OP_PRE):
        return 0
    return next(level for level, signs in enumerate(STRENGTH, start=1) if token.value in signs)
