"""States drawn from the case files: typed values replaced by limits, ties, half steps, equal pairs, zeros and gaps.

What one draw replaces says nothing of what another does, so a state is found again by its number.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from builder.engine.layout import Place, Slot
from builder.engine.model import Model
from builder.engine.spec.model import Input
from tests.support.workbooks import Typed, case_files, typed_case

CHANGES = 6  # at most, in one state
STEP = 1e-12  # either side of a limit that is hit exactly
STEPS = (0.01, 0.05, 0.1, 0.125, 0.25, 0.5, 1.0)
ANGLES = tuple(22.5 * n for n in range(17))
UNITS = {"D or mm": "D"}  # what is compared with one another


@dataclass(frozen=True)
class Drawn:
    """A case and what is typed into it otherwise; None: nothing."""

    number: int
    base: str
    changes: tuple[tuple[Place, Any], ...]

    @property
    def name(self) -> str:
        return f"draw {self.number} of {self.base}"

    def typed(self, without: int | None = None) -> Typed:
        """The typed cells; `without` one of the changes, by its place among them."""
        changes = {p: value for n, (p, value) in enumerate(self.changes) if n != without}
        return {place: value for place, value in {**typed_case(self.base), **changes}.items() if value is not None}


class Drawing:
    """Draws states of the planning workbook."""

    def __init__(self, model: Model) -> None:
        self._model = model
        self._slots = [slot for slot in model.layout.slots if slot.row.input is not None]
        self._bases = [name for name in ("blank", *case_files()) if len(typed_case(name)) > 20]

    def state(self, number: int) -> Drawn:
        """The state of a number, always the same one while inputs and cases are."""
        draw = random.Random(f"state {number}")
        base = self._bases[number % len(self._bases)]
        held = dict(typed_case(base))
        filled = [slot for slot in self._slots if slot.place in held]
        changes: dict[Place, Any] = {}
        for _ in range(draw.randint(1, CHANGES)):
            slot = draw.choice(filled if draw.random() < 0.8 else self._slots)
            changes[slot.place] = held[slot.place] = self.value(draw, slot, held)
        return Drawn(number, base, tuple(changes.items()))

    def value(self, draw: random.Random, slot: Slot, held: Mapping[Place, Any]) -> Any:
        item = slot.row.input
        assert item is not None
        if draw.random() < 0.1:
            return None
        if item.type == "choice":
            return self._model.spec.words.get("choice", draw.choice(item.choices))
        if item.type == "listed":
            return draw.choice([value for value in self._names if value] or [None])
        if item.type == "date":
            return float(draw.choice([held.get(slot.place) or 46082, 46082]) + draw.choice((-366, -365, -1, 0, 1, 365)))
        if item.type != "number":
            return held.get(slot.place)
        return draw.choice(NUMBERS)(self, draw, slot, held)

    @cached_property
    def _names(self) -> list[Any]:
        """Names of lenses that cases choose."""
        listed = {slot.place for slot in self._slots if slot.row.input and slot.row.input.type == "listed"}
        found = {value for name in self._bases for place, value in typed_case(name).items() if place in listed}
        return sorted(value for value in found if isinstance(value, str))

    def _limit(self, item: Input, end: str) -> float:
        value = getattr(item, end)
        if isinstance(value, str):
            constant = self._model.spec.constants.get(value)
            return float(constant.value) if constant else 43.0
        return float(value)

    def _fellows(self, slot: Slot, held: Mapping[Place, Any]) -> list[float]:
        """The typed numbers of the same unit in this eye, and what the other eye has in this row."""
        unit = UNITS.get(slot.row.unit, slot.row.unit)
        return [
            float(held[other.place])
            for other in self._slots
            if other.place != slot.place
            and isinstance(held.get(other.place), int | float)
            and (other.side == slot.side or other.row.key == slot.row.key)
            and UNITS.get(other.row.unit, other.row.unit) == unit
        ] or [_present(slot, held)]

    def _constants(self, slot: Slot) -> list[float]:
        unit = UNITS.get(slot.row.unit, slot.row.unit)
        return [float(c.value) for c in self._model.spec.constants.values() if c.unit == unit] or [1.0]


class Missing(Drawing):
    """Eyes at a threshold, exactly or a last digit either side, of which each input is missing in turn."""

    def state(self, number: int) -> Drawn:
        draw = random.Random(f"missing {number}")
        base = self._bases[number % len(self._bases)]
        held = typed_case(base)
        filled = [slot for slot in self._slots if slot.place in held]
        away = filled[number // len(self._bases) % len(filled)]
        numbers = [s for s in filled if s.row.input and s.row.input.type == "number" and s is not away]
        changes: list[tuple[Place, Any]] = [(away.place, None)]
        for slot in draw.sample(numbers, min(len(numbers), 1)):
            draws = _at_a_limit if slot.row.input and draw.random() < 0.3 else _as_far_as_a_rule_says
            changes.append((slot.place, draws(self, draw, slot, held) + draw.choice((0.0, 0.0, 0.01, -0.01))))
        return Drawn(number, base, tuple(changes))


def _present(slot: Slot, held: Mapping[Place, Any]) -> float:
    value = held.get(slot.place)
    return float(value) if isinstance(value, int | float) else 43.0


def _at_a_limit(drawing: Drawing, draw: random.Random, slot: Slot, held: Mapping[Place, Any]) -> float:
    assert slot.row.input is not None
    limit = drawing._limit(slot.row.input, draw.choice(("lowest", "highest")))
    return limit + draw.choice((0.0, STEP, -STEP, 0.01, -0.01))


def _like_another(drawing: Drawing, draw: random.Random, slot: Slot, held: Mapping[Place, Any]) -> float:
    return draw.choice(drawing._fellows(slot, held))


def _as_far_as_a_rule_says(drawing: Drawing, draw: random.Random, slot: Slot, held: Mapping[Place, Any]) -> float:
    """So far from another typed value, or from 0, as a constant is, or a step more or less."""
    start = draw.choice([0.0, _present(slot, held), *drawing._fellows(slot, held)])
    there = start + draw.choice((-1, 1)) * draw.choice(drawing._constants(slot))
    return round(there, 10) + draw.choice((0.0, STEP, -STEP))


def _half_a_step(drawing: Drawing, draw: random.Random, slot: Slot, held: Mapping[Place, Any]) -> float:
    step = draw.choice(STEPS)
    return round(round(_present(slot, held) / step) * step + draw.choice((0.0, step / 2)), 10)


def _zero(drawing: Drawing, draw: random.Random, slot: Slot, held: Mapping[Place, Any]) -> float:
    return 0.0


def _along(drawing: Drawing, draw: random.Random, slot: Slot, held: Mapping[Place, Any]) -> float:
    """An angle of the wheel, or a quarter or half turn from another; of what is no angle, its opposite or double."""
    if slot.row.unit == "degrees":
        turned = draw.choice(drawing._fellows(slot, held)) + draw.choice((0, 45, 90, 135, 180))
        return draw.choice((*ANGLES, turned % 180, turned % 180))
    return _present(slot, held) * draw.choice((-1.0, 2.0, 0.5, 1.1, 0.9))


NUMBERS: tuple[Callable[..., float], ...] = (
    *(_at_a_limit, _like_another, _as_far_as_a_rule_says, _as_far_as_a_rule_says, _half_a_step, _zero, _along),
)
