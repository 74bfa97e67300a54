"""Comparisons that only the last digits of two numbers decide: a word that hangs on one differs between programs."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from builder.engine.layout import Place
from builder.engine.model import Model
from builder.engine.witness import translate
from builder.engine.witness.operands import compare
from builder.engine.witness.workbook import Witness
from tests.support.drawn_states import STEP

NEAR = STEP / 2  # what arithmetic leaves of equal numbers is less; a step that is drawn is more


@dataclass
class Near:
    """The formula cells that decided so, with the first pair of numbers each; one place a row."""

    rows: dict[str, tuple[Place, float, float]] = field(default_factory=dict)

    def told(self, model: Model) -> Iterator[str]:
        for key, (place, left, right) in self.rows.items():
            slot = model.compiled[place].slot
            yield f"{key} {model.at(place)[0]}!{place.address}: {left!r} beside {right!r}   ({slot.row.file})"


@contextmanager
def watched(model: Model, seen: Witness) -> Iterator[Near]:
    """Meanwhile each near decision is noted, but for those about what is typed, which is as exact as it is typed."""
    near = Near()

    def watching(left: Any, right: Any) -> int:
        decided = compare(left, right)
        numbers = left.__class__ is float and right.__class__ is float
        if decided and numbers and abs(left - right) <= NEAR:
            place = seen.computing
            row = model.compiled[place].slot.row
            if not row.judges and not row.key.startswith(("state_", "judged_")):
                near.rows.setdefault(row.key, (place, left, right))
        return decided

    translate.NAMES["compare"] = watching
    try:
        yield near
    finally:
        translate.NAMES["compare"] = compare
