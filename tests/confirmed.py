"""Draws changes of confirmed plans and asks whether a confirmation still stands: `python -m tests.confirmed 2000`.

The cells' own formulas answer (`builder/engine/witness`). Input after input is changed, alone or with up to two more. A
confirmation may stand only where the warnings in force and the plan are those that were confirmed, and the code of one
state must not be that of another state of the same eye. Exit 1 if one stands that must not.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations
from typing import Any

from builder.engine.layout import Place, Slot
from builder.engine.model import Model, load_model
from builder.planner.reference.eyes import EYES
from tests.support.drawn_states import Drawing
from tests.support.witnesses import witness
from tests.support.workbooks import Typed, typed_case

CONFIRMED = (  # cases whose warnings are confirmed by their code, or whose plan was checked by its code
    "ready-after-confirmation",
    "1-cone-both-eyes",
    "own-lenses",
    "map-3-cone-below-cone-on-steep",
    "followup-across-zero",
    "tied-candidates",
    "far-vertex",
    "ready",
)
BY_HAND = ("warnings_confirmed_by", "warnings_confirmed_code", "checked_code")  # these are the confirmation
MORE = 2  # further inputs changed at most
WHOLE = ("lens_place", "lens_power", "lens_cylinder")
HUNDREDTHS = ("chosen_a", "goal_refraction", "predicted_mean", "predicted_cylinder")
ANGLES = ("marks_axis", "incision_meridian")


@dataclass(frozen=True)
class Content:
    """What a confirmation is of, in one state of an eye, and what the sheet says of the confirmation."""

    name: str
    warnings: tuple[str, ...]
    plan: tuple[Any, ...]
    code: float | None  # of the warnings and the plan
    plan_code: float | None
    confirmed: bool
    checked: bool
    state: str


@dataclass
class Found:
    """How many states were seen and how many were others than the confirmed one; what stood and must not."""

    states: int = 0
    others: int = 0
    pairs: int = 0
    alike: int = 0  # pairs with one code and another content, by the chance of one in the modulus
    wrong: list[str] = field(default_factory=list)
    inputs: set[tuple[str, str | None]] = field(default_factory=set)


class Confirming:
    """Draws states of confirmed plans."""

    def __init__(self, model: Model) -> None:
        self._model, self._drawing = model, Drawing(model)
        slots = [slot for slot in model.layout.slots if slot.row.input is not None]
        self.slots = [slot for slot in slots if slot.row.key.removeprefix("typed_") not in BY_HAND]
        eyes = model.layout.cells
        self._rows = {
            (eye, key): next(slot.place for (of, _), slot in eyes("eyes", key).items() if of == eye)
            for eye in EYES
            for key in (*WHOLE, *HUNDREDTHS, *ANGLES, *CODES)
        }

    @cached_property
    def _warnings(self) -> dict[tuple[str, str], Place]:
        cells = self._model.layout.cells("points", "warning_flag")
        return {key: slot.place for key, slot in cells.items()}

    def content(self, name: str, cells: Typed, eye: str) -> Content:
        """What is in force of an eye."""
        row = {key: cells[self._rows[eye, key]] for key in (*WHOLE, *HUNDREDTHS, *ANGLES, *CODES)}
        parts = [row[key] for key in WHOLE]
        parts += [
            None if row[key] is None else round(100 * row[key], 6) // 1 for key in ("chosen_a", "goal_refraction")
        ]
        parts += [_nearest(row[key], 100.0) for key in ("predicted_mean", "predicted_cylinder")]
        parts += [_nearest(row["marks_axis"], 1.0, 180), _nearest(row["incision_meridian"], 1.0)]
        live = tuple(key for (of, key), place in self._warnings.items() if of == eye and cells[place] == 1)
        said = (row["warnings_code"], row["plan_code"], row["warnings_confirmed"] == 1)
        agrees = row["same_checked_code"] == self._model.spec.words.get("word", "agrees")
        return Content(name, live, tuple(parts), *said, agrees, row["status"])

    def states(self, base: str, numbers: Sequence[int]) -> Iterator[tuple[str, Typed]]:
        """The case as it is, then with the inputs of these numbers changed."""
        yield f"{base} as it is", typed_case(base)
        for number in numbers:
            draw, held = random.Random(f"confirmed {base} {number}"), dict(typed_case(base))
            slots = [self.slots[number % len(self.slots)], *draw.sample(self.slots, draw.randint(0, MORE))]
            for slot in slots:
                held[slot.place] = self._drawing.value(draw, slot, held)
            told = ", ".join(f"{_name(slot)} = {held[slot.place]!r}" for slot in slots)
            yield f"{base}: {told}", {place: value for place, value in held.items() if value is not None}


CODES = ("warnings_code", "plan_code", "warnings_confirmed", "same_checked_code", "status")


def _nearest(number: float | None, units: float, turn: int | None = None) -> float | None:
    if number is None:
        return None
    whole = float(int(abs(round(units * number, 6)) + 0.5)) * (1 if number >= 0 else -1)
    return whole % turn if turn else whole


def _name(slot: Slot) -> str:
    return " ".join(part for part in (slot.side, slot.row.key.removeprefix("typed_")) if part)


def search(model: Model, count: int) -> Found:
    """So many states, each input in its turn, over the confirmed cases."""
    confirming, found, seen = Confirming(model), Found(), witness()
    stride = max(1, len(confirming.slots) * len(CONFIRMED) // count)
    each = [range(at, count, len(CONFIRMED)) for at in range(len(CONFIRMED))]
    for base, numbers in zip(CONFIRMED, each, strict=True):
        places = [number * stride for number in numbers]
        found.inputs |= {(_name(confirming.slots[n % len(confirming.slots)]), None) for n in places}
        by_eye: dict[str, list[Content]] = {eye: [] for eye in EYES}
        for name, typed in confirming.states(base, places):
            cells = seen.values(typed)
            for eye in EYES:
                by_eye[eye].append(confirming.content(name, cells, eye))
        found.states += len(places)
        for eye, contents in by_eye.items():
            judge(eye, contents, found)
    return found


def judge(eye: str, contents: Sequence[Content], found: Found) -> None:
    first, *others = contents
    for other in others:
        plan, whole = other.plan == first.plan, (other.plan, other.warnings) == (first.plan, first.warnings)
        found.others += not whole
        if other.confirmed and first.confirmed and not whole:
            found.wrong.append(f"{eye}: the warnings' confirmation stands: {other.name}")
        if other.checked and first.checked and not plan:
            found.wrong.append(f"{eye}: the check stands: {other.name}")
        if other.state == "ready" and other.warnings and not other.confirmed:
            found.wrong.append(f"{eye}: ready with a warning that nobody confirmed: {other.name}")
    for one, other in combinations(contents, 2):
        if None in (one.code, other.code) or (one.plan, one.warnings) == (other.plan, other.warnings):
            continue
        found.pairs += 1
        if one.code == other.code:
            found.alike += 1
            apart = set(one.warnings) ^ set(other.warnings)
            if one.plan == other.plan and len(apart) <= 4:
                found.wrong.append(f"{eye}: one code for {sorted(apart)} exchanged: {one.name} | {other.name}")


def main(count: int) -> int:
    """Prints what was seen; 1 if a confirmation stands that must not."""
    model, begun = load_model(), time.monotonic()
    found = search(model, count)
    print(*found.wrong, sep="\n", end="\n" if found.wrong else "")
    print(
        f"{found.states:,} states of {len(CONFIRMED)} confirmed cases, {len(found.inputs)} inputs in turn: "
        f"{found.others:,} eyes with another plan or other warnings, {len(found.wrong)} confirmations stand"
    )
    print(
        f"{found.pairs:,} pairs of states of one eye: {found.alike} with one code for another content "
        f"({found.pairs / 8011:.0f} by chance at most); {time.monotonic() - begun:.0f} s"
    )
    return 1 if found.wrong else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000))
