"""The kinds of value that an entry of a spec file may have, each with what a message calls it."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

WORD = re.compile(r"[A-Za-z][A-Za-z0-9_]*")


@dataclass(frozen=True)
class Kind:
    """A kind of value: how a message calls it, and whether a value is of it."""

    said: str
    holds: Callable[[Any], bool]


def is_number(value: Any) -> bool:
    """A finite number; true and false are none."""
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def is_whole(value: Any) -> bool:
    """A whole number from 0."""
    return isinstance(value, int) and is_number(value) and value >= 0


def is_key(value: Any) -> bool:
    """Letters, digits and underscores, a letter first."""
    return isinstance(value, str) and WORD.fullmatch(value) is not None


def is_key_of_each(value: Any) -> bool:
    """A key of a row set, in which `#` stands for another key."""
    return isinstance(value, str) and is_key(value.replace("#", "each"))


def is_ends(value: Any) -> bool:
    """The lowest and the highest number of an axis, and its step if it has one."""
    return isinstance(value, list) and len(value) in (2, 3) and all(map(is_number, value)) and value[0] < value[1]


def is_cases(value: Any) -> bool:
    """Pairs of a flag and a value, and last what it is otherwise."""
    if not isinstance(value, list) or not value:
        return False
    pairs = value[:-1] if isinstance(value[-1], str) and value[-1] else value
    texts = [
        isinstance(pair, list) and len(pair) == 2 and all(isinstance(t, str) and t for t in pair) for pair in pairs
    ]
    return bool(pairs) and all(texts)


def list_of(of: Kind, least: int = 0) -> Kind:
    """A list of values of a kind, so many or more."""
    said = f"a list of {of.said.removeprefix('a ')}s" + (f", {least} or more" if least else "")
    return Kind(said, lambda v: isinstance(v, list) and len(v) >= least and all(map(of.holds, v)))


def table_of(said: str, of: Kind) -> Kind:
    """A table whose values are of a kind."""
    return Kind(said, lambda v: isinstance(v, dict) and all(map(of.holds, v.values())))


def one_of(*words: str) -> Kind:
    """One of these words."""
    return Kind(f"one of {', '.join(words)}", lambda v: isinstance(v, str) and v in words)


TEXT = Kind("a text", lambda v: isinstance(v, str))
KEY = Kind("a key", is_key)  # letters, digits and underscores, a letter first
NAME = Kind("a name", lambda v: isinstance(v, str) and all(map(is_key, v.split("."))))  # a prefix with a dot before it
TRUTH = Kind("true or false", lambda v: isinstance(v, bool))
NUMBER = Kind("a number", is_number)
POSITIVE = Kind("a number above 0", lambda v: is_number(v) and v > 0)
WHOLE = Kind("a whole number from 0", is_whole)
DIGITS = Kind("a whole number from 0 to 9", lambda v: is_whole(v) and v <= 9)
LIMIT = Kind("a number or a name", lambda v: is_number(v) or NAME.holds(v))
CELL = Kind("a number or a text", lambda v: is_number(v) or isinstance(v, str))
COLOUR = Kind("a colour as in #1F3A5F", lambda v: isinstance(v, str) and bool(re.fullmatch("#[0-9A-F]{6}", v)))
ENDS = Kind("a list of the lowest and the highest number, and of a step if there is one", is_ends)
ABOVE_0 = Kind("a whole number above 0", lambda v: is_whole(v) and v > 0)
ANY_WHOLE = Kind("a whole number", lambda v: is_number(v) and isinstance(v, int))
PAIR = Kind("a list of two whole numbers", lambda v: isinstance(v, list) and len(v) == 2 and all(map(is_whole, v)))
NAMED = Kind("a name", lambda v: isinstance(v, str) and v != "")  # as a formula has it, with `#` and `@`
THREE = Kind("a list of three keys", lambda v: isinstance(v, list) and len(v) == 3 and all(map(is_key, v)))
EACH = Kind("a key", is_key_of_each)
DOTTED = Kind("a cell as in example.row", lambda v: NAME.holds(v) and v.count(".") == 1)
VERSION = Kind("a version as in 0.1.0", lambda v: isinstance(v, str) and bool(re.fullmatch(r"\d+(\.\d+)*", v)))
CHOICES = Kind("a list of different keys", lambda v: list_of(KEY, 1).holds(v) and len(set(v)) == len(v))
CASES = Kind("a list of pairs [flag, value], with one value at the end if there is an otherwise", is_cases)
