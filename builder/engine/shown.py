"""The values of rows that only show what other cells hold: echoes, and choices by flags and by places."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from builder.engine.formula.resolve import Reference, Resolver
from builder.engine.layout import Layout, Place, Slot
from builder.engine.model import Model, constant_value, edition_taken


def followed(model: Model, cells: Mapping[Place, Any], slots: Iterable[Slot]) -> dict[Place, Any]:
    """The values of slots that show others, whose values `cells` has or which are among the slots themselves."""
    resolver = Resolver(model.spec, model.layout, dict(model.constants))
    shown = _Shown(model, resolver, _resolved(model.layout), cells, {slot.place: slot for slot in slots})
    return {place: shown.at(slot) for place, slot in shown.slots.items()}


@lru_cache(maxsize=8)
def _resolved(layout: Layout) -> dict[tuple[str, Place], Reference]:
    """What names stand for, seen from a cell: the same in every case, so each is resolved once for a workbook."""
    return {}


@dataclass
class _Shown:
    model: Model
    resolver: Resolver
    resolved: dict[tuple[str, Place], Reference]
    cells: Mapping[Place, Any]
    slots: dict[Place, Slot]
    found: dict[Place, Any] = field(default_factory=dict)

    def at(self, slot: Slot) -> Any:
        """The value of a cell: a constant, one of the reference, or one that follows."""
        place = slot.place
        if slot.row.role(slot.instance) == "constant":
            model = self.model
            return constant_value(model.spec, slot.row, slot.instance, model.edition, edition_taken(model))
        if place not in self.slots:
            return self.cells[place]
        if place not in self.found:
            row = slot.row
            self.found[place] = self._of(row.echo, slot) if row.echo else self._chosen(slot)
        return self.found[place]

    def _chosen(self, slot: Slot) -> Any:
        decision = slot.row.decision
        if not self._guarded(slot):
            return None
        if decision is None:
            return self._of(slot.row.formula_of(slot.instance), slot)
        if decision.at:
            place = self._of(decision.at, slot)
            if place is None:
                return self._of(decision.otherwise, slot)
            return self.at(self._line(decision.picked, slot)[int(place) - 1])
        if decision.by:
            cases = zip(self._line(decision.by, slot), self._line(decision.picked, slot), strict=True)
            holding = (self.at(value) for flag, value in cases if self.at(flag) == 1)
            return next(holding, self._of(decision.otherwise, slot))
        values = (value for when, value in decision.cases if self._of(when, slot) == 1)
        return self._of(next(values, decision.otherwise), slot)

    def _guarded(self, slot: Slot) -> bool:
        row = slot.row
        if row.any_of is not None:
            wanted = [self.at(cell) for name in row.any_of for cell in self._line(name, slot)]
            return any(isinstance(value, int | float) for value in wanted)
        needed = [self._line(name, slot) for name in row.needs or ()]
        return all(len(line) != 1 or self.at(line[0]) is not None for line in needed)

    def _of(self, name: str, slot: Slot) -> Any:
        """What a name stands for: a text, a constant or the value of a cell."""
        if name == '""':
            return None
        found = self._resolve(name, slot)
        if found.kind == "text":
            return found.text[1:-1].replace('""', '"')
        return self.at(found.slots[0]) if found.slots else self.model.spec.constants[name].value

    def _line(self, name: str, slot: Slot) -> list[Slot]:
        """The cells of a list in their order."""
        return sorted(self._resolve(name, slot).slots, key=lambda cell: cell.place)

    def _resolve(self, name: str, slot: Slot) -> Reference:
        here = name, slot.place
        if here not in self.resolved:
            self.resolved[here] = self.resolver.resolve(name.replace("@", slot.instance), slot)
        return self.resolved[here]
