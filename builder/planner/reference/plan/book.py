"""What the calculation of a plan must know of the workbook beside medicine.

An echo: inputs, words and points as the cells have them, read from the same specs; nothing is computed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from numpy.typing import NDArray

from builder.engine.spec.model import Input, Point
from builder.engine.spec.words import Words
from builder.planner.reference.constants import Constants
from builder.planner.reference.plan.proof import Check


@dataclass(frozen=True)
class Book:
    """What the calculation must know of the workbook: inputs, words, points, places in words, examples."""

    inputs: tuple[Input, ...]
    words: Words
    points: tuple[Point, ...]
    where: Mapping[tuple[str, str], str]
    examples: Mapping[str, list[Any]]
    proofs: Mapping[str, Mapping[str, NDArray[Any]]]
    checks: Sequence[Check]
    needs: Sequence[str]
    need_steps: Mapping[str, str]
    fit_items: Sequence[str]
    constants: Constants
