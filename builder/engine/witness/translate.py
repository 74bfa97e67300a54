"""A formula in cells -> Python: a pattern that many cells share, and the cells that each of them puts into it."""

from __future__ import annotations

import marshal
import re
from collections.abc import Callable, Sequence
from typing import Any

from builder.engine.addresses import CELL, TITLE
from builder.engine.witness import functions, operands
from builder.engine.witness.functions import ASKING, FUNCTIONS, OF_LISTS

CELL_OR_TEXT = re.compile(rf"""\"(?:[^"]|"")*\"|(?<![\w$.!'])((?:{TITLE})?{CELL}(?::{CELL})?)(?![\w(!.])""")
TOKEN = re.compile(
    r'\s*(?:(?P<text>"(?:[^"]|"")*")|(?P<call>[A-Z][A-Z0-9]*)\(|(?P<logical>TRUE|FALSE)'
    r"|(?P<number>\d+\.?\d*(?:E[-+]?\d+)?|\.\d+)|(?P<sign><=|>=|<>|[-+*/^&=<>(),@]))"
)
# Operators by how close they bind, loosest first; each written in Python.
LEVELS: tuple[dict[str, str], ...] = (
    {sign: f"(compare({{}},{{}}){python}0)" for sign, python in zip(
        ("=", "<>", "<", ">", "<=", ">="), ("==", "!=", "<", ">", "<=", ">="), strict=True)},
    {"&": "(text({})+text({}))"},
    {"+": "(number({})+number({}))", "-": "(number({})-number({}))"},
    {"*": "(number({})*number({}))", "/": "(number({})/number({}))"},
    {"^": "power({},{})"},
)  # fmt: skip
NAMES: dict[str, Any] = {
    **{name: getattr(operands, name) for name in ("caught", "compare", "number", "power", "text", "truth")},
    "choose": functions.choose,
    **{f"f_{name}": function for name, function in FUNCTIONS.items()},
}

Compute = Callable[[Sequence[Any], Sequence[int]], Any]  # from the values of all nodes and the nodes that it reads


class Untranslated(Exception):
    """A formula that is not of the dialect."""


def translate(pattern: str) -> str:
    """The Python that computes a pattern. Raises Untranslated."""
    parser = _Parser(pattern)
    python = parser.expression(0)
    if parser.kind:
        raise Untranslated(f"{parser.value!r} is left over in {pattern}")
    return f"lambda v, a: {python}"  # only names of NAMES, numbers and texts by repr are in it


def functions_of(code: bytes) -> list[Compute]:
    """The functions that were made ready."""
    found: list[Compute] = eval(marshal.loads(code), NAMES)  # of ready alone
    return found


def ready(sources: Sequence[str]) -> bytes:
    """The Python of patterns, compiled."""
    return marshal.dumps(compile(f"[{','.join(sources)}]", "patterns", "eval"))


class _Parser:
    """By the precedence of operators; `kind` and `value` are the token that comes next."""

    def __init__(self, pattern: str) -> None:
        self.pattern, self.at, self.cells = pattern, 0, 0
        self.kind, self.value = "", ""
        self.step()

    def step(self) -> None:
        found = TOKEN.match(self.pattern, self.at)
        if found is None:
            if self.pattern[self.at :].strip():
                raise Untranslated(f"{self.pattern[self.at :][:20]!r} is not of the dialect, in {self.pattern}")
            self.kind = self.value = ""
        else:
            self.kind, self.at = str(found.lastgroup), found.end()
            self.value = found[self.kind]

    def take(self, sign: str) -> None:
        if self.value != sign or self.kind != "sign":
            raise Untranslated(f"{sign!r} is missing before {self.value!r} in {self.pattern}")
        self.step()

    def expression(self, level: int) -> str:
        if level == len(LEVELS):
            return self.operand()
        left = self.expression(level + 1)
        while self.kind == "sign" and self.value in LEVELS[level]:
            written = LEVELS[level][self.value]
            self.step()
            left = written.format(left, self.expression(level + 1))
        return left

    def operand(self) -> str:
        kind, value = self.kind, self.value
        self.step()
        if kind == "text":
            return repr(value[1:-1].replace('""', '"'))
        if kind == "number":
            return repr(float(value))
        if kind == "logical":
            return value.capitalize()
        if kind == "call":
            return self.call(value)
        if value == "@":
            self.cells += 1
            return f"v[a[{self.cells - 1}]]"
        if value == "-":
            return f"(-number({self.operand()}))"
        if value == "(":
            inner = self.expression(0)
            self.take(")")
            return f"({inner})"
        raise Untranslated(f"{value!r} stands where a value must, in {self.pattern}")

    def call(self, name: str) -> str:
        given: list[str] = []
        while not (self.kind == "sign" and self.value == ")"):
            if given:
                self.take(",")
            given.append(self.expression(0))
        self.take(")")
        if name == "IF" and len(given) == 3:
            return f"({given[1]} if truth({given[0]}) else {given[2]})"
        if name == "CHOOSE" and len(given) > 1:
            return f"choose({given[0]},{','.join(f'lambda: {choice}' for choice in given[1:])})"
        if name not in FUNCTIONS:
            raise Untranslated(f"{name} with {len(given)} arguments is not of the dialect, in {self.pattern}")
        cell = re.compile(r"v\[a\[\d+\]\]|f_INDEX\(.*\)").fullmatch
        if name in ASKING:
            given = [value if cell(value) else f"caught(lambda: {value})" for value in given]
        elif name in OF_LISTS:
            given = [value if cell(value) else f"number({value})" for value in given]
        return f"f_{name}({','.join(given)})"
