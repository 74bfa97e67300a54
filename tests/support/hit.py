"""Every comparison that has slack, met exactly: an input of a case is moved until both sides of it are equal.

Of each row one comparison after the other is met, in the case and by the input that is nearest to it; by the secant,
on the numbers that our witness of the cells compares.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any

from builder.engine.layout import Place, Slot
from builder.engine.model import Model
from builder.engine.witness import translate
from builder.engine.witness.operands import compare
from builder.engine.witness.workbook import Witness
from tests.support.workbooks import Typed, typed_case

SLACK_ROW = "rounding_slack"
SLACK = 1e-9  # of specs/clinical/constants.toml, once more: the two sides differ by it where a limit is met exactly
STEP = 1e-12
MET = 2e-13  # closer than half a step, and no closer than numbers of some hundreds allow
GRAIN = 1e-6  # degrees are folded to as many decimals in the cells, and nobody types more
TRIES, NEAREST = 14, 4  # steps of the secant; inputs that are tried for one comparison
MOVED = {"D": 0.05, "mm": 0.01, "degrees": 0.5, "µm": 1.0, "months": 0.5}  # by unit, to see what it changes

Site = tuple[str, int]  # a row, and which of the comparisons that it makes as it is computed


@dataclass(frozen=True, order=True)
class Way:
    """How a comparison is met: `value` typed into `place` of a case; `slope`: what one unit there moves it by."""

    far: float
    site: Site
    base: str
    place: Place
    value: float
    slope: float
    at: Place
    grain: float = 0.0  # what is typed there is a multiple of it, if it is not 0


@dataclass
class Seen:
    """The gap between both sides of each comparison with slack, as the cells were last computed."""

    gaps: dict[Place, list[float]] = field(default_factory=dict)
    state: set[Place] = field(default_factory=set)

    def fresh(self) -> None:
        self.state.clear()


@contextmanager
def recorded(model: Model, witness: Witness) -> Iterator[Seen]:
    """Meanwhile the gaps are noted, of rows whose formula has slack."""
    seen = Seen()
    with_slack = {
        place
        for place, compiled in model.compiled.items()
        if SLACK_ROW in (compiled.slot.row.formula_of(compiled.slot.instance) or "")
    }

    def watching(left: Any, right: Any) -> int:
        if left.__class__ is float and right.__class__ is float:
            place = witness.computing
            if place in with_slack:
                if place not in seen.state:
                    seen.state.add(place)
                    seen.gaps[place] = []
                seen.gaps[place].append(left - right)
        return compare(left, right)

    translate.NAMES["compare"] = watching
    try:
        yield seen
    finally:
        translate.NAMES["compare"] = compare


def ways(model: Model, witness: Witness, seen: Seen, base: str) -> Iterator[Way]:
    """What may meet each comparison in one case: each typed number a little further, and how far it has to go."""
    typed = typed_case(base)
    seen.fresh()
    witness.values(typed)
    before = {place: list(gaps) for place, gaps in seen.gaps.items()}
    for slot in _numbers(model, typed):
        held = float(typed[slot.place])
        moved = MOVED.get(slot.row.unit, 0.01)
        seen.fresh()
        witness.values({**typed, slot.place: held + moved})
        for place in seen.state:
            for number, (now, then) in enumerate(zip(seen.gaps[place], before.get(place, []), strict=False)):
                slope = (now - then) / moved
                if abs(slope) > 1e-6 and _within(slot, value := held - then / slope):
                    site = model.compiled[place].slot.row.key, number
                    yield Way(abs(then / slope / moved), site, base, slot.place, value, slope, place, grain_of(slot))
    seen.fresh()
    witness.values(typed)


def _numbers(model: Model, typed: Typed) -> list[Slot]:
    slots = (slot for slot in model.layout.slots if slot.row.input is not None and slot.row.input.type == "number")
    return [slot for slot in slots if isinstance(typed.get(slot.place), int | float)]


def grain_of(slot: Slot) -> float:
    """The smallest step of what is typed there; 0: any number."""
    return GRAIN if slot.row.unit == "degrees" else 0.0


def _within(slot: Slot, value: float) -> bool:
    """Whether the judge takes it; limits that are names of constants are left to the witness."""
    item = slot.row.input
    assert item is not None
    lowest, highest = (end if isinstance(end, int | float) else value for end in (item.lowest, item.highest))
    return lowest <= value <= highest


def met(witness: Witness, seen: Seen, way: Way) -> Way | None:
    """The way with the value at which both sides are equal, or None where the input leads elsewhere."""
    typed, value, slope = typed_case(way.base), way.value, way.slope
    before: tuple[float, float] | None = None
    for _ in range(TRIES):
        seen.fresh()
        witness.values({**typed, way.place: value})
        gaps = seen.gaps.get(way.at, [])
        if len(gaps) <= way.site[1]:
            return None
        gap = gaps[way.site[1]]
        if before is not None and before[0] != value and before[1] != gap:
            slope = (gap - before[1]) / (value - before[0])
        if abs(gap) < MET or (before is not None and abs(gap) < 20 * MET and abs(gap) >= abs(before[1])):
            return replace(way, value=round(value / way.grain) * way.grain if way.grain else value, slope=slope)
        before = value, gap
        value -= gap / slope
    return None


def states_of(way: Way) -> Mapping[str, Typed]:
    """The limit hit exactly, whichever side its slack is on, and one step either way."""
    if way.grain:
        values = {f"{step:+.0f} grain": round(way.value + step * way.grain, 6) for step in (-1, 0, 1)}
    else:
        gaps = [side + step for side in (-SLACK, SLACK) for step in (-STEP, 0.0, STEP)]
        values = {f"{gap:+.12f}": way.value + gap / way.slope for gap in gaps}
    named = f"{way.site[0]} {way.site[1]} of {way.base}"
    return {f"{named} at {told}": {**typed_case(way.base), way.place: value} for told, value in values.items()}


def nearest(found: Sequence[Way]) -> dict[Site, list[Way]]:
    """Of each comparison the ways that go least far, in different cases where there are some."""
    by_site: dict[Site, list[Way]] = {}
    for way in sorted(found):
        kept = by_site.setdefault(way.site, [])
        if len(kept) < NEAREST and (way.base, way.place) not in {(one.base, one.place) for one in kept}:
            kept.append(way)
    return by_site
