"""The functions of the dialect in Python, as three spreadsheet programs agree on them.

ISO/IEC 29500-1, part 18.17.7, says what each gives; `tests/test_dialect.py` has the trials that they passed.
"""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Callable
from contextvars import ContextVar
from decimal import ROUND_DOWN, ROUND_HALF_UP, ROUND_UP, Decimal
from typing import Any

from builder.engine.spec.model import ErrorValue
from builder.engine.witness import lists
from builder.engine.witness.operands import Fault, count, flat, number, numbers, some, text, truth

DECIMAL_SIGN = ContextVar("DECIMAL_SIGN", default=".")


def rounded(value: Any, digits: Any, how: str = ROUND_HALF_UP) -> float:
    """ROUND: half away from zero, of the shortest decimal that is this number."""
    return float(_decimal(value, digits, how))


def _decimal(value: Any, digits: Any, how: str) -> Decimal:
    found = Decimal(repr(number(value)))
    last = Decimal(1).scaleb(-int(number(digits)))
    return found if found.as_tuple().exponent >= -int(number(digits)) else found.quantize(last, how)  # type: ignore[operator]


def fixed(value: Any, digits: Any, plain: Any) -> str:
    """FIXED without separators, as an office with this decimal sign writes it."""
    if not truth(plain):
        raise Fault("#VALUE!")
    return f"{_decimal(value, digits, ROUND_HALF_UP):.{int(number(digits))}f}".replace(".", DECIMAL_SIGN.get())


def choose(place: Any, *choices: Callable[[], Any]) -> Any:
    """CHOOSE, which computes the chosen one alone."""
    at = int(number(place))
    if not 1 <= at <= len(choices):
        raise Fault("#VALUE!")
    return choices[at - 1]()


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
    "COUNT": count,
    "AVERAGE": lambda *given: statistics.fmean(some(*given)),
    "MEDIAN": lambda *given: statistics.median(some(*given)),
    "STDEV": lambda *given: math.sqrt(lists.spread(*given)),
    "VAR": lists.spread,
    "SUMSQ": lambda *given: math.fsum(value * value for value in numbers(*given)),
    "AVEDEV": lists.deviation,
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
    "INDEX": lists.index,
    "MATCH": lists.match,
    "SUMPRODUCT": lambda first, second: math.fsum(a * b for a, b in lists.pairs(first, second)),
    "FIXED": fixed,
    "UPPER": lambda value: text(value).upper(),
    "LEFT": lambda value, count: text(value)[: int(number(count))],
    "LEN": lambda value: float(len(text(value))),
    "TRIM": lambda value: re.sub(" +", " ", text(value)).strip(" "),
    "SUBSTITUTE": lambda value, old, new: text(value).replace(text(old), text(new)),
    "COUNTBLANK": lambda area: float(sum(value in (None, "") for value in flat(area))),
    "COUNTIF": lambda area, word: float(len(lists.chosen(area, word, area))),
    "SUMIF": lambda area, word, summed: math.fsum(numbers(*lists.chosen(area, word, summed))),
    "AVERAGEIF": lists.mean_if,
    "SMALL": lambda area, place: lists.ordered(area, place, False),
    "LARGE": lambda area, place: lists.ordered(area, place, True),
    "RANK": lists.rank,
    "PERCENTILE": lists.percentile,
    "COVAR": lists.covariance,
    "NORMSDIST": _of_number(lambda x: math.erfc(-x / math.sqrt(2)) / 2),
    "NORMSINV": _of_number(statistics.NormalDist().inv_cdf),
    "FINV": lambda *given: lists.quantile("FINV", *given),
    "TINV": lambda *given: lists.quantile("TINV", *given),
    **OF_LISTS,
    **ASKING,
}
