"""Judges what a program shows of a hostile workbook, and counts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from builder.engine.exchange.cellvalues import Cells
from builder.engine.layout import Place
from builder.engine.model import Model
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.judge import ErrorValue
from tests.campaign.hostile import Hostile
from tests.support.judged import at_eye, faults, released_cells, sentences, shown_errors
from tests.support.many_states import TypedFormula
from tests.support.rubbish import eyes_concerned, inputs
from tests.support.workbooks import at, differences

NEEDED = ("corneal_diagnosis", "axial_length", "goal_refraction", "lens_choice")
TYPED_TWICE = {  # the first entry, its second, and how far they may differ; K and axis follow the plan's own source
    "axial_length": ("again_axial_length", 0.01),
    "chamber_depth": ("again_acd", 0.01),
    "goal_refraction": ("again_goal", 0.01),
    "lens_choice": ("again_lens", 0.0),
}
SLACK = 1e-6


@dataclass
class Counts:
    """The figures of one program."""

    tried: Counter[str] = field(default_factory=Counter)
    withheld: Counter[str] = field(default_factory=Counter)
    warned: Counter[str] = field(default_factory=Counter)
    released_wrongly: list[str] = field(default_factory=list)
    unnamed: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)

    @property
    def total(self) -> int:
        """How many workbooks were tried."""
        return sum(self.tried.values())

    @property
    def fault_count(self) -> int:
        """Everything that is not as it should be."""
        return len(self.released_wrongly) + len(self.unnamed) + len(self.errors) + len(self.wrong)

    def judge(self, model: Model, book: Hostile, cells: Cells, before: Cells, wanted: Mapping[Place, Any]) -> None:
        """Takes one workbook's cells into account. `before`: those of its base, `wanted`: those of the reference."""
        self.tried[book.kind] += 1
        own_errors = {
            at(model, place)
            for place, value in book.written.items()
            if isinstance(value, ErrorValue | TypedFormula) or value == "#N/A"
        }
        self.errors += [f"{book}: {line}" for line in shown_errors(cells, own_errors)]
        for line in faults(model, cells, {place: book.written[place] for place in book.refused}):
            (self.released_wrongly if ": shows " in line else self.unnamed).append(f"{book}: {line}")
        for eye in must_be_withheld(model, book):
            self.released_wrongly += [f"{book}: {eye} shows {key}" for key in released_cells(model, cells, eye)]
        self.wrong += [f"{book}: {line}" for line in differences(model, wanted, cells)]
        touched = {eye for slot in inputs(model) if slot.place in book.written for eye in eyes_concerned(slot)}
        if not any(released_cells(model, cells, eye) for eye in touched):
            self.withheld[book.kind] += 1
        elif any(_says_more(model, cells, before, eye) for eye in touched):
            self.warned[book.kind] += 1


def must_be_withheld(model: Model, book: Hostile) -> set[str]:
    """The eyes that may not be released, found without the reference: something needed is not there, or a first entry
    differs from its second."""

    def typed(key: str, eye: str) -> Any:
        return book.typed.get(model.layout.cells("eyes", f"typed_{key}")[eye, eye].place)

    eyes = {eye for eye in EYES for key in NEEDED if typed(key, eye) is None}
    for eye in EYES:
        for first, (second, apart) in TYPED_TWICE.items():
            one, two = typed(first, eye), typed(second, eye)
            if isinstance(one, int | float) and isinstance(two, int | float):
                if abs(one - two) > apart + SLACK:
                    eyes.add(eye)
            elif isinstance(one, str) and isinstance(two, str) and one.casefold() != two.casefold():
                eyes.add(eye)
    return eyes


def _says_more(model: Model, cells: Cells, before: Cells, eye: str) -> bool:
    """Whether an eye shows a reason or warning that it did not show before, or is withheld now."""
    new = set(sentences(model, cells, eye)) - set(sentences(model, before, eye))
    return bool(new) or (at_eye(model, before, "released", eye) == 1 and not released_cells(model, cells, eye))
