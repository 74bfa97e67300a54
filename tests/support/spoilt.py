"""Complete workbooks with rubbish pasted into them: drawn by hypothesis, always the same ones, and swept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from builder.engine.layout import Place
from builder.engine.model import Model
from tests.support.rubbish import KINDS, inputs, rubbish
from tests.support.workbooks import typed_case

BASES = (
    "ready",
    "ready-after-confirmation",
    "radii-in-mm",
    "own-lenses",
    "front-and-back",
    "after-myopic-laser",
    "total-power",
    "followup-cured-by-turning",
)
DRAWN = 60
SWEEP = 2  # workbooks a kind of rubbish, which share the inputs


@dataclass(frozen=True)
class Spoilt:
    """A complete workbook and what was pasted into it: (place, kind, pick)."""

    base: str
    pastes: tuple[tuple[Place, str, int], ...]

    def pasted(self, model: Model) -> dict[Place, Any]:
        """The rubbish by cell, without what would be no mistake there."""
        slots = {slot.place: slot for slot in inputs(model)}
        values = {
            place: rubbish(model, slots[place], kind, typed_case(self.base).get(place), pick)
            for place, kind, pick in self.pastes
        }
        return {place: value for place, value in values.items() if value is not None}


def drawn_workbooks(model: Model) -> list[Spoilt]:
    """At least DRAWN different workbooks, each with one to three pasted cells."""
    found: dict[Spoilt, None] = {}
    paste = st.tuples(
        st.sampled_from([slot.place for slot in inputs(model)]), st.sampled_from(KINDS), st.integers(0, 5)
    )

    @settings(
        derandomize=True,
        database=None,
        max_examples=2 * DRAWN,
        phases=[Phase.generate],
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(st.sampled_from(BASES), st.lists(paste, min_size=1, max_size=3, unique_by=lambda item: item[0]))
    def collect(base: str, pastes: list[tuple[Place, str, int]]) -> None:
        book = Spoilt(base, tuple(sorted(pastes)))
        if len(found) < DRAWN and book.pasted(model):
            found[book] = None

    collect()
    return list(found)


def swept_workbooks(model: Model) -> list[Spoilt]:
    """Every kind of rubbish in every input, many inputs a workbook."""
    places = [slot.place for slot in inputs(model)]
    return [
        Spoilt(
            BASES[(number + part) % len(BASES)], tuple((place, kind, number + part) for place in places[part::SWEEP])
        )
        for number, kind in enumerate(KINDS)
        for part in range(SWEEP)
    ]
