"""What the functions and operators of the dialect give, as three spreadsheet programs agree on it.

Values are float, str, bool, None (a blank cell) and ErrorValue; an area is a tuple of lines. Where programs differ, as
about a blank or an empty text in arithmetic, the answer here is an error value, so that no formula can rely on it.
ISO/IEC 29500-1, part 18.17.7, has the functions; `tests/test_dialect.py` the trials that they passed.
"""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Callable, Iterator
from decimal import ROUND_DOWN, ROUND_HALF_UP, ROUND_UP, Decimal
from functools import lru_cache
from typing import Any

from builder.spec.model import ErrorValue

BLANK, TEXT, LOGICAL = 0, 1, 2  # how unlike values are ordered: a number below a text below a logical value


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
        if value.__class__ is tuple:
            for line in value:
                yield from line
        else:
            yield value


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
    lines = area if area.__class__ is tuple else ((area,),)
    line, column = int(number(line)), int(number(column))
    if not (1 <= line <= len(lines) and 1 <= column <= len(lines[0])):
        raise Fault("#REF!")
    return lines[line - 1][column - 1]


def _chosen(area: Any, word: Any, summed: Any) -> list[Any]:
    """The cells of `summed` beside those of `area` that are the word. Fault for a word that is a comparison."""
    if isinstance(word, str) and word[:1] in ("<", ">", "=", ""):
        raise Fault("#VALUE!")
    alike = _alike(word)
    return [value for key, value in zip(flat(area), flat(summed), strict=True) if alike(key)]


def mean_if(area: Any, word: Any, summed: Any) -> float:
    """AVERAGEIF."""
    return statistics.fmean(some(*_chosen(area, word, summed)))


def rounded(value: Any, digits: Any, how: str = ROUND_HALF_UP) -> float:
    """ROUND: half away from zero, of the shortest decimal that is this number."""
    return float(_decimal(value, digits, how))


def _decimal(value: Any, digits: Any, how: str) -> Decimal:
    found = Decimal(repr(number(value)))
    last = Decimal(1).scaleb(-int(number(digits)))
    return found if found.as_tuple().exponent >= -int(number(digits)) else found.quantize(last, how)  # type: ignore[operator]


def fixed(value: Any, digits: Any, plain: Any) -> str:
    """FIXED without separators."""
    if not truth(plain):
        raise Fault("#VALUE!")
    return f"{_decimal(value, digits, ROUND_HALF_UP):.{int(number(digits))}f}"


def choose(place: Any, *choices: Callable[[], Any]) -> Any:
    """CHOOSE, which computes the chosen one alone."""
    at = int(number(place))
    if not 1 <= at <= len(choices):
        raise Fault("#VALUE!")
    return choices[at - 1]()


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


def angle(x: Any, y: Any) -> float:
    """ATAN2, which takes x first."""
    x, y = number(x), number(y)
    if x == 0 == y:
        raise Fault("#DIV/0!")
    return math.atan2(y, x)


def _of_number(compute: Callable[[float], float]) -> Callable[[Any], float]:
    return lambda value: compute(number(value))


def _not_error(value: Any) -> bool:
    return not isinstance(value, ErrorValue)


# Functions that see a value before anything is asked of it, as it is in its cell.
ASKING: dict[str, Callable[[Any], bool]] = {
    "ISNUMBER": lambda value: value.__class__ is float,
    "ISTEXT": lambda value: isinstance(value, str) and _not_error(value),
    "ISBLANK": lambda value: value is None,
    "ISERROR": lambda value: isinstance(value, ErrorValue),
    "ISLOGICAL": lambda value: isinstance(value, bool),
}
# Functions that take a list of numbers: cells and areas as they are, all else as a number.
OF_LISTS: dict[str, Callable[..., float]] = {
    "SUM": lambda *given: math.fsum(numbers(*given)),
    "MIN": lambda *given: min(numbers(*given), default=0.0),
    "MAX": lambda *given: max(numbers(*given), default=0.0),
    "COUNT": lambda *given: float(sum(value.__class__ is float for value in flat(*given))),
    "AVERAGE": lambda *given: statistics.fmean(some(*given)),
    "MEDIAN": lambda *given: statistics.median(some(*given)),
    "STDEV": lambda *given: math.sqrt(spread(*given)),
    "VAR": spread,
    "SUMSQ": lambda *given: math.fsum(value * value for value in numbers(*given)),
    "AVEDEV": deviation,
}
FUNCTIONS: dict[str, Callable[..., Any]] = {
    "AND": lambda *given: all([truth(value) for value in given]),
    "OR": lambda *given: any([truth(value) for value in given]),
    "NOT": lambda value: not truth(value),
    "ABS": _of_number(abs),
    "SIGN": _of_number(lambda x: float((x > 0) - (x < 0))),
    "SQRT": _of_number(math.sqrt),
    "EXP": _of_number(math.exp),
    "LN": _of_number(math.log),
    "SIN": _of_number(math.sin),
    "COS": _of_number(math.cos),
    "TAN": _of_number(math.tan),
    "ASIN": _of_number(math.asin),
    "ACOS": _of_number(math.acos),
    "ATAN": _of_number(math.atan),
    "ATAN2": angle,
    "RADIANS": _of_number(math.radians),
    "DEGREES": _of_number(math.degrees),
    "PI": lambda: math.pi,
    "ROUND": rounded,
    "ROUNDDOWN": lambda value, digits: rounded(value, digits, ROUND_DOWN),
    "ROUNDUP": lambda value, digits: rounded(value, digits, ROUND_UP),
    "INT": _of_number(lambda x: float(math.floor(x))),
    "MOD": lambda value, step: number(value) % number(step),
    "INDEX": index,
    "MATCH": match,
    "SUMPRODUCT": lambda first, second: math.fsum(a * b for a, b in pairs(first, second)),
    "FIXED": fixed,
    "UPPER": lambda value: text(value).upper(),
    "LEN": lambda value: float(len(text(value))),
    "TRIM": lambda value: re.sub(" +", " ", text(value)).strip(" "),
    "COUNTBLANK": lambda area: float(sum(value in (None, "") for value in flat(area))),
    "COUNTIF": lambda area, word: float(len(_chosen(area, word, area))),
    "SUMIF": lambda area, word, summed: math.fsum(numbers(*_chosen(area, word, summed))),
    "AVERAGEIF": mean_if,
    "SMALL": lambda area, place: ordered(area, place, False),
    "LARGE": lambda area, place: ordered(area, place, True),
    "RANK": rank,
    "PERCENTILE": percentile,
    "COVAR": covariance,
    "NORMSDIST": _of_number(lambda x: math.erfc(-x / math.sqrt(2)) / 2),
    "NORMSINV": _of_number(statistics.NormalDist().inv_cdf),
    "FINV": lambda *given: quantile("FINV", *given),
    "TINV": lambda *given: quantile("TINV", *given),
    **OF_LISTS,
    **ASKING,
}
