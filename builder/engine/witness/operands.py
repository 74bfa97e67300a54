"""What a value is to an operator or function: a number, a truth, a text, one of a list; and when it is none of these.

Values are float, str, bool, None (a blank cell) and ErrorValue; an area is an Area of such. Where programs differ, as
about a blank or an empty text in arithmetic, the answer here is an error value, so that no formula can rely on it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any

from builder.engine.spec.model import ErrorValue

BLANK, TEXT, LOGICAL = 0, 1, 2  # how unlike values are ordered: a number below a text below a logical value


class Area(tuple[Any, ...]):
    """The values of an area, line by line, and how many there are in a line."""

    width: int


class Fault(Exception):
    """What a formula gives instead of a value; its text is the error value."""


def caught(compute: Callable[[], Any]) -> Any:
    """A value, or the error value in its place, for the functions that ask which it is."""
    try:
        return compute()
    except (Fault, ArithmeticError, ValueError) as fault:
        return error_of(fault)


def error_of(fault: Exception) -> ErrorValue:
    """The error value of what went wrong in a formula."""
    if isinstance(fault, Fault):
        return ErrorValue(str(fault))
    return ErrorValue("#DIV/0!" if isinstance(fault, ZeroDivisionError) else "#NUM!")


def number(value: Any) -> float:
    """A value that is computed with. Fault for all but numbers and what a comparison gives."""
    if value.__class__ is float:
        return value
    if value.__class__ is bool:
        return float(value)
    raise Fault(value if isinstance(value, ErrorValue) else "#VALUE!")


def truth(value: Any) -> bool:
    """A value that decides. Fault for texts and blanks."""
    return value if value.__class__ is bool else number(value) != 0


def text(value: Any) -> str:
    """A value as it is joined to a text: a number with up to 15 digits, nothing for a blank."""
    if isinstance(value, ErrorValue):
        raise Fault(value)
    if isinstance(value, str):
        return value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    return str(int(value)) if value.is_integer() and abs(value) < 1e15 else f"{value:.15G}"


def compare(left: Any, right: Any) -> int:
    """Below 0, 0 or above 0. Texts without case; a blank is 0 beside a number and an empty text beside a text."""
    if left.__class__ is float and right.__class__ is float:
        return (left > right) - (left < right)
    for value in (left, right):
        if isinstance(value, ErrorValue):
            raise Fault(value)
    if left is None:
        left = "" if isinstance(right, str) else 0.0
    if right is None:
        right = "" if isinstance(left, str) else 0.0
    ranks = _rank(left), _rank(right)
    if ranks[0] != ranks[1]:
        return ranks[0] - ranks[1]
    if ranks[0] == TEXT:
        left, right = left.lower(), right.lower()
    return int(left > right) - int(left < right)


def _rank(value: Any) -> int:
    return LOGICAL if isinstance(value, bool) else TEXT if isinstance(value, str) else BLANK


def power(base: Any, exponent: Any) -> float:
    """base ^ exponent. Fault where there is no real number."""
    base, exponent = number(base), number(exponent)
    if base == 0 and exponent <= 0:
        raise Fault("#NUM!" if exponent == 0 else "#DIV/0!")
    return math.pow(base, exponent)


def flat(*given: Any) -> Iterator[Any]:
    """The values of cells and areas, one after the other."""
    for value in given:
        if value.__class__ is Area:
            yield from value
        else:
            yield value


def count(*given: Any) -> float:
    """How many numbers there are among cells and areas."""
    found = 0
    for value in given:
        if value.__class__ is float:
            found += 1
        elif value.__class__ is Area:
            found += sum([inner.__class__ is float for inner in value])
    return float(found)


def numbers(*given: Any) -> list[float]:
    """The numbers among cells and areas, which pass texts, logical values and blanks over. Fault for an error value."""
    found = []
    for value in flat(*given):
        if value.__class__ is float:
            found.append(value)
        elif isinstance(value, ErrorValue):
            raise Fault(value)
    return found


def some(*given: Any) -> list[float]:
    """As `numbers`. Fault where there is none."""
    found = numbers(*given)
    if not found:
        raise Fault("#DIV/0!")
    return found
