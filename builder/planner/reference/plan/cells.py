"""Arrays of cells: numbers with NaN for empty, words (object arrays) with "" for empty; and what they are kept in.

Another method: half_up in decimal arithmetic, where the cells ask FIXED.
An echo: look-ups, choices, least and greatest values as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextvars import ContextVar
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words

Array = NDArray[np.float64]
WordArray = NDArray[np.object_]
DECIMAL_SIGN = ContextVar("DECIMAL_SIGN", default=".")  # in sentences, of the language in which they are said


DIAGNOSES = (
    *("regular", "keratoconus", "ectasia_after_laser", "pellucid", "after_myopic_laser", "after_hyperopic_laser"),
    *("radial_cuts", "graft", "other"),
)


class Values:
    """Values by list and row key: plan (n,), eyes (n, 2), a list of the plan (n, k), a list of each eye (n, 2, k)."""

    def __init__(self) -> None:
        self.rows: dict[tuple[str, str], NDArray[Any]] = {}

    def put(self, list_name: str, **rows: Any) -> None:
        """Adds rows; a row is given once."""
        for key, value in rows.items():
            if (list_name, key) in self.rows:
                raise ValueError(f"{list_name}.{key} is given twice")
            self.rows[list_name, key] = np.asarray(value)

    def get(self, list_name: str, key: str) -> NDArray[Any]:
        """The values of a row over a list."""
        return self.rows[list_name, key]


class EyeValues:
    """The rows of the eyes as attributes: `eye.mean_k`."""

    def __init__(self, values: Values) -> None:
        self._values = values

    def __getattr__(self, key: str) -> NDArray[Any]:
        return self._values.get("eyes", key)


def there(values: NDArray[Any]) -> NDArray[np.bool_]:
    """Where a cell holds something: a number that is no NaN, a word that is not empty."""
    if values.dtype == object:
        return np.vectorize(lambda word: word != "", otypes=[bool])(values)
    return ~np.isnan(values)


def select(cases: Sequence[tuple[Any, Any]], default: Any = "") -> WordArray:
    """The word of the first case whose condition holds."""
    conditions = np.broadcast_arrays(*[np.asarray(condition, dtype=bool) for condition, _ in cases])
    result = (
        np.full(conditions[0].shape, default, dtype=object)
        if isinstance(default, str)
        else np.array(default, dtype=object)
    )
    for condition, (_, word) in reversed(list(zip(conditions, cases, strict=True))):
        result = np.where(condition, np.asarray(word, dtype=object), result)
    return result


def diagnosed(eye: EyeValues, words: Words, *keys: str) -> NDArray[np.bool_]:
    """Where the corneal diagnosis is one of these choices."""
    return np.isin(eye.corneal_diagnosis, [words.get("choice", key) for key in keys])


def flag(condition: NDArray[np.bool_]) -> Array:
    """1 where a condition holds, else 0."""
    return condition.astype(float)


def flag_where(holds: NDArray[np.bool_], *needed: NDArray[Any]) -> Array:
    """1 or 0 where all that is needed is there; else NaN."""
    known = np.logical_and.reduce(np.broadcast_arrays(*(there(row) for row in needed)))
    return np.where(known, flag(holds), np.nan)


def place_of(words: WordArray, order: Sequence[str]) -> Array:
    """The place of each word in an order, counted from 1; NaN where it is not there."""
    hit = words[..., None] == np.array(order, dtype=object)
    return np.where(hit.any(axis=-1), hit.argmax(axis=-1) + 1.0, np.nan)


def lowest(*values: Array) -> Array:
    """The least of what is there; NaN when nothing is."""
    return np.fmin.reduce(np.broadcast_arrays(*values))


def highest(*values: Array) -> Array:
    """The greatest of what is there; NaN when nothing is."""
    return np.fmax.reduce(np.broadcast_arrays(*values))


def at_number(row: NDArray[Any], number: Array) -> NDArray[Any]:
    """The value of a list's row (..., k) at a place counted from 1 (...); NaN where there is no place."""
    place = np.where(there(number), number - 1, 0).astype(int)
    return np.where(there(number), np.take_along_axis(row, place[..., None], axis=-1)[..., 0], np.nan)


def by_rule(rule: WordArray, cases: Mapping[str, Array]) -> Array:
    """The number that belongs to the word of a rule; NaN for a word that has none."""
    result = np.full(np.broadcast_shapes(rule.shape, *(np.shape(v) for v in cases.values())), np.nan)
    for word, value in cases.items():
        result = np.where(rule == word, value, result)
    return result


def both_agree(agrees: Array) -> NDArray[np.bool_]:
    """Where a second source agrees in this eye and in the other one."""
    return np.repeat((agrees == 1).all(axis=-1, keepdims=True), agrees.shape[-1], axis=-1)


def half_up(number: float, decimals: int = 0) -> str:
    """A number as a person writes it: halves away from zero, with the decimal sign of the language."""
    plain = f"{Decimal(repr(float(number))).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP):f}"
    return plain.replace(".", DECIMAL_SIGN.get())
