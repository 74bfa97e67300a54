"""Stored results against those that the reference computes from what is typed in the file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from builder.engine.audit.book import BookView
from builder.engine.audit.expected import PlannedCells
from builder.engine.audit.finding import Finding, finding
from builder.engine.layout import Place, Slot
from builder.engine.model import Model
from builder.engine.same import same, says_the_same
from builder.engine.values import values_of_cases


def typed_in(model: Model, found: BookView) -> dict[Place, Any]:
    """What the typed cells of a file hold."""
    typed = {}
    for slot in model.layout.slots:
        value = _held(found, *model.at(slot.place)) if slot.row.input is not None else None
        if value is not None:
            typed[slot.place] = value
    return typed


def _held(found: BookView, title: str, address: str) -> Any:
    """What a cell of a file stores; None for nothing, or no such cell."""
    cell = found.sheets[title].cells.get(address) if title in found.sheets else None
    return None if cell is None else cell.value


def compare_results(model: Model, planned: PlannedCells, found: BookView) -> Iterator[Finding]:
    """Each formula cell whose stored value is not what the reference has.

    A cell that reads typed cells and differs has not been recalculated since they were typed, or was overwritten; so
    has one that reads such a cell. One whose sources are all as they should be differs by itself.
    """
    typed = typed_in(model, found)
    wanted = next(values_of_cases(model, [typed]))
    at = model.formula_cells
    seen = {place: _held(found, *at[place]) for place in wanted}
    if not any(value is not None for value in seen.values()):
        yield finding("result", what="results_none")
        return
    wrong = {
        place
        for place, value in wanted.items()
        if not same(value, seen[place], model.compiled[place].slot.row.is_axis)
        and not says_the_same(value, seen[place])
    }
    stale = _stale(model, wrong, typed)
    for place in wanted:
        title, address = at[place]
        if place in wrong and title in found.sheets:
            what = "result_stale" if place in stale else "result"
            yield finding("result", title, address, planned[title][address].key, wanted[place], seen[place], what)


def _stale(model: Model, wrong: set[Place], typed: Mapping[Place, Any]) -> set[Place]:
    """The wrong cells that read, at the end of a chain of wrong cells, only typed ones."""
    found: dict[Place, bool] = {}

    def judge(place: Place) -> bool:
        pending = [place]
        while pending:
            here = pending[-1]
            reads = _reads(model, here)
            sources = [slot.place for slot in reads if slot.place in wrong]
            open_ones = [source for source in sources if source not in found]
            if open_ones:
                pending += open_ones
                continue
            found[here] = all(found[s] for s in sources) if sources else any(_is_typed(slot) for slot in reads)
            pending.pop()
        return found[place]

    return {place for place in wrong if judge(place)}


def _reads(model: Model, place: Place) -> Sequence[Slot]:
    """What a cell reads. A copy in a long list reads on its line what the first one reads on its own, or all lines."""
    slot, reads = model.compiled[place].slot, model.compiled[place].reads
    owner = slot.block.instances
    if reads or not owner.long:
        return reads
    cells, at = model.layout.cells(owner.name, slot.row.key), owner.keys.index(slot.instance)
    first = next((n for n in range(at) if model.compiled[cells[slot.side, owner.keys[n]].place].reads), at)
    copied = model.compiled[cells[slot.side, owner.keys[first]].place].reads
    lines = Counter(read.row.key for read in copied if read.block.instances.name == owner.name)
    found = []
    for read in copied:
        if lines[read.row.key] == 1:
            line = owner.keys.index(read.instance) + at - first
            read = model.layout.cells(owner.name, read.row.key)[read.side, owner.keys[line]]
        found.append(read)
    return found


def _is_typed(slot: Slot) -> bool:
    return slot.row.input is not None
