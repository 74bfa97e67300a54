"""Functions of the dialect that search a list or describe its numbers."""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Callable
from functools import lru_cache
from typing import Any

from builder.engine.spec.model import ErrorValue
from builder.engine.witness.operands import Area, Fault, flat, number, numbers, some


@lru_cache(maxsize=1 << 12)
def _pattern(searched: str) -> re.Pattern[str]:
    """What a searched text stands for: * any letters, ? one letter, ~ before one of these the mark itself."""
    wild = re.sub(
        r"~([*?~])|([*])|([?])|([^*?~]+|~)",
        lambda m: ".*" if m[2] else "." if m[3] else re.escape(m[1] or m[4]),
        searched,
    )
    return re.compile(wild, re.IGNORECASE | re.DOTALL)


def _alike(searched: Any) -> Callable[[Any], bool]:
    """Whether a cell is what is searched: a number, or a text with wildcards."""
    if isinstance(searched, ErrorValue):
        raise Fault(searched)
    if isinstance(searched, str):
        found = _pattern(searched).fullmatch
        return lambda value: isinstance(value, str) and not isinstance(value, ErrorValue) and bool(found(value))
    wanted = number(searched)
    return lambda value: value.__class__ is float and value == wanted


def match(searched: Any, area: Any, kind: Any) -> float:
    """MATCH in a line or column; `kind` is 0."""
    if number(kind) != 0 or searched is None:
        raise Fault("#N/A")
    alike = _alike(searched)
    for place, value in enumerate(flat(area), 1):
        if alike(value):
            return float(place)
    raise Fault("#N/A")


def index(area: Any, line: Any, column: Any) -> Any:
    """INDEX: the value at a line and column, counted from 1."""
    cells, width = (area, area.width) if area.__class__ is Area else ((area,), 1)
    line, column = int(number(line)), int(number(column))
    if not (1 <= line <= len(cells) // width and 1 <= column <= width):
        raise Fault("#REF!")
    return cells[(line - 1) * width + column - 1]


def chosen(area: Any, word: Any, summed: Any) -> list[Any]:
    """The cells of `summed` beside those of `area` that are the word. Fault for a word that is a comparison."""
    if isinstance(word, str) and word[:1] in ("<", ">", "=", ""):
        raise Fault("#VALUE!")
    alike = _alike(word)
    return [value for key, value in zip(flat(area), flat(summed), strict=True) if alike(key)]


def mean_if(area: Any, word: Any, summed: Any) -> float:
    """AVERAGEIF."""
    return statistics.fmean(some(*chosen(area, word, summed)))


def ordered(area: Any, place: Any, falling: bool) -> float:
    """SMALL and LARGE."""
    found, at = sorted(numbers(area), reverse=falling), int(number(place))
    if not 1 <= at <= len(found):
        raise Fault("#NUM!")
    return found[at - 1]


def rank(value: Any, area: Any) -> float:
    """RANK from the largest."""
    found = numbers(area)
    if number(value) not in found:
        raise Fault("#N/A")
    return 1.0 + sum(other > value for other in found)


def percentile(area: Any, part: Any) -> float:
    """PERCENTILE, between neighbours in proportion."""
    found = sorted(some(area))
    at = number(part) * (len(found) - 1)
    if not 0 <= at <= len(found) - 1:
        raise Fault("#NUM!")
    below = math.floor(at)
    return found[below] + (at - below) * (found[min(below + 1, len(found) - 1)] - found[below])


def pairs(first: Any, second: Any) -> list[tuple[float, float]]:
    """The pairs of two areas in which both are numbers."""
    both = zip(flat(first), flat(second), strict=True)
    return [(a, b) for a, b in both if a.__class__ is float and b.__class__ is float]


def covariance(first: Any, second: Any) -> float:
    """COVAR, over their count."""
    found = pairs(first, second)
    if not found:
        raise Fault("#DIV/0!")
    means = [statistics.fmean(side) for side in zip(*found, strict=True)]
    return math.fsum((a - means[0]) * (b - means[1]) for a, b in found) / len(found)


def spread(*given: Any) -> float:
    """VAR of a sample."""
    found = numbers(*given)
    if len(found) < 2:
        raise Fault("#DIV/0!")
    return statistics.variance(found)


def deviation(*given: Any) -> float:
    """AVEDEV."""
    found = some(*given)
    mean = statistics.fmean(found)
    return statistics.fmean(abs(value - mean) for value in found)


def quantile(name: str, *given: Any) -> float:
    """FINV and TINV by scipy."""
    from scipy import stats  # late: half a second, and few formulas ask

    chance, *degrees = (number(value) for value in given)
    found = stats.f.isf(chance, *degrees) if name == "FINV" else stats.t.isf(chance / 2, *degrees)
    if not math.isfinite(found):
        raise Fault("#NUM!")
    return float(found)
