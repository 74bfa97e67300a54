"""The rows of one register: numbers with NaN for empty, words as objects with "" for empty, by list and key.

An echo: means and standard deviations as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from builder.engine.spec.model import Input
from builder.engine.spec.words import Words
from builder.planner.reference.constants import Constants
from builder.planner.reference.plan.judge import name_key

Array = NDArray[np.float64]
FORMULAS = ("srkt", "holladay1", "hofferq", "haigis", "t2")
SERIES = ("lead", *FORMULAS, "measured")


@dataclass(frozen=True)
class RegisterBook:
    """What the calculation must know of the workbook beside medicine."""

    inputs: tuple[Input, ...]
    words: Words
    edition: str
    plan_edition: str
    listed: Mapping[str, tuple[str, ...]]  # the words of each list that an input may name
    lenses: int
    constants: Constants


@dataclass
class Rows:
    """Values by list and key; a row is given once.

    `patient`: a number for whose eye a line is; `lens`: the place of its lens in the order in which they appear, NaN in
    lines that do not count.
    """

    values: dict[tuple[str, str], NDArray[Any]] = field(default_factory=dict)
    patient: Array = field(default_factory=lambda: np.empty(0))
    lens: Array = field(default_factory=lambda: np.empty(0))

    def put(self, list_name: str, **rows: ArrayLike) -> None:
        """Adds rows of a list."""
        for key, value in rows.items():
            if (list_name, key) in self.values:
                raise ValueError(f"{list_name}.{key} is given twice")
            self.values[list_name, key] = np.asarray(value)

    def line(self, key: str) -> NDArray[Any]:
        """A row of the lines."""
        return self.values["lines", key]

    def named(self, key: str, name: str) -> NDArray[np.bool_]:
        """In which lines a column has this name, written in any way."""
        return np.array([name_key(str(value)) == name_key(name) for value in self.line(key)])

    def number(self, key: str) -> Array:
        """A column of the lines as numbers; NaN where there is none, or a word for what is wrong."""
        return np.array([v if isinstance(v, float) else np.nan for v in self.line(key)], dtype=float)

    def counted(self, key: str) -> Array:
        """A column as numbers, NaN in lines that do not count."""
        return np.where(self.line("line_counts") == 1, self.number(key), np.nan)


def objects(values: Sequence[Any]) -> NDArray[Any]:
    """Words, or numbers and words, as an array."""
    array = np.empty(len(values), dtype=object)
    array[:] = values
    return array


def by_key(instances: Sequence[Mapping[str, float]], prefix: str = "") -> dict[str, Array]:
    """Rows of a list from what each of its instances has."""
    return {f"{prefix}{key}": np.array([each[key] for each in instances]) for key in instances[0]}


def beside(row: ArrayLike, values: ArrayLike) -> NDArray[Any]:
    """Values where a row has numbers; NaN elsewhere."""
    return np.where(np.isnan(row), np.nan, values)


def there(values: Array) -> Array:
    """What is there of values."""
    return values[~np.isnan(values)]


def mean(values: Array) -> float:
    """The mean of what is there; NaN when nothing is."""
    some = there(values)
    return float(some.mean()) if some.size else np.nan


def median(values: Array) -> float:
    """The median of what is there; NaN when nothing is."""
    some = there(values)
    return float(np.median(some)) if some.size else np.nan


def sd(values: Array) -> float:
    """The standard deviation (n - 1) of what is there; NaN below two."""
    some = there(values)
    return float(some.std(ddof=1)) if some.size > 1 else np.nan
