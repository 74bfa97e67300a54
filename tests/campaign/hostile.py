"""Hostile workbooks, drawn with a seed: what careless, hurried or playful people do to a complete one.

Some mistakes must be refused cell by cell; some are plausible numbers in a wrong place, which a workbook can only find
by its limits, its contradictions, or by what a second person typed.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from builder.engine.layout import Place, Slot
from builder.engine.model import Model
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.judge import ErrorValue
from tests.support.many_states import LockedOver, TypedFormula
from tests.support.rubbish import KINDS, inputs, rubbish
from tests.support.spoilt import BASES
from tests.support.workbooks import Typed, typed_case

# Formulas typed into an input, and what they yield. A number is taken as that number: no cell can tell it from a typed
# one, but `verify` and `gather` do.
FORMULAS: tuple[tuple[str, Any], ...] = (
    ("1/0", ErrorValue("#DIV/0!")),
    ("NA()", ErrorValue("#N/A")),
    ("NOSUCHNAME+1", ErrorValue("#NAME?")),
    ("#REF!", ErrorValue("#REF!")),
    ("Nosheet!A1", ErrorValue("#REF!")),
    ("23,5", ErrorValue("#VALUE!")),
    ('"43"&"?"', "43?"),
    ('"~*"', "~*"),
    ("1=1", True),
)
LINKS: tuple[tuple[str, Any], ...] = (
    ("'[1]Sheet1'!A1", ErrorValue("#REF!")),
    ("'[other.xlsx]Sheet1'!$A$1", ErrorValue("#REF!")),
    ("'file:///nowhere/other.xlsx'!A1", ErrorValue("#REF!")),
    ('INDIRECT("Nowhere!A1")', ErrorValue("#REF!")),
    ("cmd|' /C calc'!A0", ErrorValue("#REF!")),
    ('HYPERLINK("http://example.invalid/?")', "http://example.invalid/?"),
)


@dataclass
class Hostile:
    """One workbook: its base, what is written into typed cells, what a program then sees there, and which it must
    refuse."""

    kind: str
    base: str
    written: dict[Place, Any] = field(default_factory=dict)
    seen: dict[Place, Any] = field(default_factory=dict)
    refused: set[Place] = field(default_factory=set)

    def put(self, place: Place, value: Any, seen: Any = None, refuse: bool = False) -> None:
        """Types a value, which a program sees as `seen` if that is another."""
        self.written[place] = value
        self.seen[place] = value if seen is None else seen
        if refuse:
            self.refused.add(place)

    @property
    def typed(self) -> Typed:
        """All typed cells as a program sees them."""
        return {**typed_case(self.base), **self.seen}

    def __str__(self) -> str:
        cells = {f"{place.sheet} {place.address}": value for place, value in self.written.items()}
        return f"{self.kind} | {self.base} | {cells if len(cells) < 5 else f'{len(cells)} cells'}"


def draw(model: Model, count: int, seed: int) -> list[Hostile]:
    """As many workbooks, ordered by base, the kinds in the shares of SHARES."""
    chance = random.Random(seed)
    kinds = list(SHARES)
    books: list[Hostile] = []
    while len(books) < count:
        kind = chance.choices(kinds, [share for share, _ in SHARES.values()])[0]
        book = Hostile(kind, chance.choice(BASES))
        SHARES[kind][1](model, book, chance)
        if book.written:
            books.append(book)
    return sorted(books, key=lambda book: BASES.index(book.base))


def _some(model: Model, chance: random.Random, wanted: Callable[[Slot], bool] = lambda _: True) -> list[Slot]:
    slots = [slot for slot in inputs(model) if wanted(slot)]
    return chance.sample(slots, min(len(slots), chance.choice((1, 1, 2, 3))))


def _held(book: Hostile) -> Callable[[Slot], bool]:
    return lambda slot: slot.place in typed_case(book.base)


def _is_number(slot: Slot) -> bool:
    return slot.row.input is not None and slot.row.input.type == "number"


def _pasted_rubbish(model: Model, book: Hostile, chance: random.Random) -> None:
    for slot in _some(model, chance):
        present = typed_case(book.base).get(slot.place)
        value = rubbish(model, slot, chance.choice(KINDS), present, chance.randrange(6))
        if value is not None:
            book.put(slot.place, value, refuse=True)


def _decimal_comma(model: Model, book: Hostile, chance: random.Random) -> None:
    for slot in _some(model, chance, lambda slot: _is_number(slot) and _held(book)(slot)):
        present = typed_case(book.base)[slot.place]
        book.put(slot.place, f"{present:.{chance.choice((1, 2))}f}".replace(".", ","), refuse=True)


def _locked_over(model: Model, book: Hostile, chance: random.Random) -> None:
    for slot in _some(model, chance, _is_number):
        value = chance.choice(("Axial length", "differs", "not ready", "43.5", "#N/A"))
        book.put(slot.place, LockedOver(value), value, refuse=True)


def _deleted(_: Model, book: Hostile, chance: random.Random) -> None:
    held = sorted(typed_case(book.base))
    for place in chance.sample(held, chance.choice((1, 1, 2, 5))):
        book.put(place, None)


def _formula_typed(model: Model, book: Hostile, chance: random.Random) -> None:
    for slot in _some(model, chance, _is_number):
        text, yields = chance.choice(FORMULAS)
        book.put(slot.place, TypedFormula(text), yields, refuse=True)


def _formula_of_a_number(model: Model, book: Hostile, chance: random.Random) -> None:
    for slot in _some(model, chance, lambda slot: _is_number(slot) and _held(book)(slot)):
        present = float(typed_case(book.base)[slot.place])
        book.put(slot.place, TypedFormula(f"({present!r})*1"), present)


def _link(model: Model, book: Hostile, chance: random.Random) -> None:
    for slot in _some(model, chance, _is_number):
        text, yields = chance.choice(LINKS)
        book.put(slot.place, TypedFormula(text), yields, refuse=True)


def _eye_slots(model: Model, list_name: str = "eyes") -> dict[str, dict[str, Place]]:
    """The typed cells of both eyes by their row."""
    return {
        key: {eye: slot.place for (eye, _), slot in cells.items()}
        for (owner, key), cells in model.layout.by_row.items()
        if owner == list_name and all(slot.row.input for slot in cells.values())
    }


def _rows(model: Model, book: Hostile, chance: random.Random, with_second: bool) -> list[dict[str, Place]]:
    """The rows of one block of inputs, of all first entries, or of everything, as one who swaps or copies takes."""
    rows = {
        key: places
        for key, places in _eye_slots(model).items()
        if any(place in typed_case(book.base) for place in places.values())
    }
    first = {key: places for key, places in rows.items() if not key.startswith("typed_again_")}
    if with_second:
        return list(rows.values())
    if chance.random() < 1 / 2:
        return list(first.values())
    sheet, line = chance.choice([(places["right"].sheet, places["right"].line) for places in first.values()])
    return [p for p in first.values() if p["right"].sheet == sheet and 0 <= p["right"].line - line < 8]


def _swapped(model: Model, book: Hostile, chance: random.Random, with_second: bool = False) -> None:
    for places in _rows(model, book, chance, with_second):
        values = [typed_case(book.base).get(places[eye]) for eye in EYES]
        if values[0] != values[1]:
            book.put(places["right"], values[1])
            book.put(places["left"], values[0])


def _right_in_left(model: Model, book: Hostile, chance: random.Random, with_second: bool = False) -> None:
    source, target = chance.sample(EYES, 2)
    for places in _rows(model, book, chance, with_second):
        value = typed_case(book.base).get(places[source])
        if value is not None and value != typed_case(book.base).get(places[target]):
            book.put(places[target], value)


def _copied_row(model: Model, book: Hostile, chance: random.Random) -> None:
    """A line of typed cells over the line below it, wherever both are typed cells."""
    cells = {slot.place for slot in inputs(model)}
    held = typed_case(book.base)
    first = chance.choice(sorted({(p.sheet, p.line) for p in held if Place(p.sheet, p.line + 1, p.column) in cells}))
    for place in sorted(p for p in cells if (p.sheet, p.line) == first):
        below = Place(place.sheet, place.line + 1, place.column)
        if below in cells and held.get(place) != held.get(below):
            book.put(below, held.get(place))


_Maker = Callable[[Model, Hostile, random.Random], None]
SHARES: Mapping[str, tuple[int, _Maker]] = {
    "rubbish pasted": (30, _pasted_rubbish),
    "decimal comma": (12, _decimal_comma),
    "locked cell pasted over": (8, _locked_over),
    "formula typed, no number": (8, _formula_typed),
    "link typed": (6, _link),
    "cells deleted": (12, _deleted),
    "line copied over the next": (8, _copied_row),
    "eyes swapped, first entry": (4, _swapped),
    "one eye's numbers in the other, first entry": (4, _right_in_left),
    "eyes swapped, both entries": (2, lambda m, b, c: _swapped(m, b, c, with_second=True)),
    "one eye's numbers in the other, both entries": (2, lambda m, b, c: _right_in_left(m, b, c, with_second=True)),
    "formula typed, a number": (4, _formula_of_a_number),
}
PLAUSIBLE = frozenset(list(SHARES)[5:])  # numbers that could be right: refused only where something contradicts them
