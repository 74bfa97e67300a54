"""Where the reference and the cells' own formulas differ, told so that the cause is seen."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Protocol

from builder.engine.dump import name_of
from builder.engine.layout import Place, Slot
from builder.engine.model import Model, load_model
from builder.engine.witness.workbook import Witness
from builder.planner.exchange.register import register_cells
from tests.support.bad_lines import lines_with_faults
from tests.support.register_lines import in_the_sulcus, invented_lines
from tests.support.shown_apart import shown_apart
from tests.support.workbooks import Typed, agrees, at, comma_elsewhere, expected, plainly_same


class Seen(Protocol):
    """Who computes the cells: our own witness, or an engine in its place (tests/support/asked.py)."""

    @property
    def fixed(self) -> Mapping[Place, Any]:
        """What the cells hold that are no formulas."""

    def values(self, typed: Typed, /) -> Mapping[Place, Any]:
        """The value of every formula cell with these cells typed."""

    def reads(self, place: Place, /) -> Collection[Place]:
        """The cells that a formula cell names."""


SHORT = 12  # lines of a register
READ, OTHERS, TOLD = 12, 6, 20  # how many are told: cells that one reads, cells alike, rows


@cache
def witness(name: str = "plan", language: str = "en", lines: int | None = None) -> Witness:
    """The witness of a workbook, made once in a process."""
    return Witness(load_model(name, language, lines=lines))


def short_registers(model: Model) -> dict[str, Typed]:
    """Registers of few lines: none to twelve sound ones, and every kind of spoilt line."""
    spoilt = lines_with_faults()[0]
    lines = {f"{count} lines": in_the_sulcus(invented_lines(count, seed=count + 1)) for count in (0, 1, 2, SHORT)}
    lines |= {f"spoilt lines from {at}": spoilt[at : at + SHORT] for at in range(0, len(spoilt), SHORT)}
    return {name: register_cells(model, part) for name, part in lines.items()}


@dataclass
class Difference:
    """A cell in which the two differ though all that it reads is the same; `others` of its row, or in other cases."""

    place: Place
    case: str
    reference: Any
    cells: Any
    reads: dict[str, tuple[Any, Any]] = field(default_factory=dict)  # in the reference, in the cells
    others: list[str] = field(default_factory=list)

    def told(self, model: Model) -> Iterator[str]:
        """What a developer must see to find the cause."""
        compiled = model.compiled[self.place]
        slot = compiled.slot
        yield f"{_where(model, slot)}   in {self.case}"
        if self.others:
            more = f", and {len(self.others) - OTHERS} more" if len(self.others) > OTHERS else ""
            yield f"    also       {', '.join(self.others[:OTHERS])}{more}"
        yield f"    reference  {self.reference!r}"
        yield f"    cells      {self.cells!r}"
        yield f"    in names   {slot.row.echo or slot.row.formula_of(slot.instance)}   ({slot.row.file})"
        yield f"    in cells   ={compiled.formula}"
        for number, (name, (wanted, seen)) in enumerate(self.reads.items()):
            apart = "" if wanted == seen else f"   (reference {wanted!r})"
            yield f"    {'reads' if not number else '     '}      {name} = {seen!r}{apart}"


@dataclass
class Compared:
    """What a comparison found: how many cells, which differ, and of each row the first of a chain of them; and rows
    that agree but may show another last digit before a program has computed them than after."""

    cells: int = 0
    wrong: int = 0
    spoilt: set[str] = field(default_factory=set)  # cases
    first: dict[tuple[str, str], Difference] = field(default_factory=dict)
    apart: dict[tuple[str, str], str] = field(default_factory=dict)

    def told(self, model: Model) -> Iterator[str]:
        """The whole finding; the last line sums up."""
        for difference in list(self.first.values())[:TOLD]:
            yield from difference.told(model)
            yield ""
        if self.wrong:
            shown = f"the first {TOLD}" if len(self.first) > TOLD else "all"
            yield (
                f"{self.wrong:,} of {self.cells:,} cells differ, cases: {len(self.spoilt)}. It begins in "
                f"{len(self.first)} rows, for all that they read is the same; above are {shown} of them"
            )


def compare(
    model: Model,
    states: Mapping[str, Typed],
    seen: Seen,
    into: Compared | None = None,
    cliffs: Mapping[str, Collection[str]] | None = None,
    wanted: Sequence[Mapping[Place, Any]] | None = None,
) -> Compared:
    """The reference's cells against those of the witness, in every state; `cliffs`: rows passed over, by state.

    `wanted`: the reference's cells, where they are known already.
    """
    found = Compared() if into is None else into
    wanted = expected(model, list(states.values())) if wanted is None else wanted
    comma = comma_elsewhere(model)
    rows = [(place, compiled.slot.row) for place, compiled in model.compiled.items()]
    for (name, typed), reference in zip(states.items(), wanted, strict=True):
        cells = seen.values(typed)
        found.cells += len(cells)
        passed = (cliffs or {}).get(name, ())
        asked = [(p, row) for p, row in rows if not plainly_same(row, reference[p], cells[p])]
        wrong = [p for p, row in asked if row.key not in passed and not agrees(row, reference[p], cells[p], comma)]
        for p, row in asked:
            if shown_apart(row, reference[p], cells[p]) and p not in wrong:
                key = model.compiled[p].slot.block.instances.name, row.key
                found.apart.setdefault(key, f"stored {reference[p]!r}, computed {cells[p]!r} in {name}")
        if wrong:
            found.wrong += len(wrong)
            found.spoilt.add(name)
            _keep_first(model, found, name, wrong, (typed, reference, cells), seen)
    return found


def _keep_first(
    model: Model,
    found: Compared,
    case: str,
    wrong: Sequence[Place],
    held: tuple[Typed, Typed, Typed],
    seen: Seen,
) -> None:
    typed, reference, cells = held
    differing = set(wrong)
    for place in wrong:
        reads = seen.reads(place)
        if differing.intersection(reads):
            continue
        slot = model.compiled[place].slot
        key = slot.block.instances.name, slot.row.key
        if key in found.first:
            found.first[key].others.append(f"{_where(model, slot)} in {case}")
            continue
        names = _names(model, reads)
        both = {}
        for read in reads:
            fixed = typed.get(read, seen.fixed.get(read))
            both[names[read]] = reference.get(read, fixed), cells.get(read, fixed)
        told = {name: pair for name, pair in both.items() if pair != (None, None)} or both
        shown = dict(list(told.items())[:READ])
        found.first[key] = Difference(place, case, reference[place], cells[place], shown)


def _where(model: Model, slot: Slot) -> str:
    return f"{name_of(slot)} {'!'.join(at(model, slot.place))}"


def _names(model: Model, places: Collection[Place]) -> dict[Place, str]:
    """Key and cell of each of these cells."""
    wanted = set(places)
    known = {slot.place: name_of(slot) for slot in model.layout.slots if slot.place in wanted}
    known |= {place: key for key, place in model.constants.items()}
    return {place: f"{known.get(place, 'a label')} {'!'.join(at(model, place))}" for place in places}
