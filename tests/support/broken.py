"""A workbook that holds the sheet of proof alone, its constants broken one by one, and what its verdict becomes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from builder.engine.compare.effect import write_bare
from builder.engine.dump import name_of
from builder.engine.editions import Edition, edition_of_model
from builder.engine.layout import Slot
from builder.engine.model import Model
from builder.engine.spec.tokens import names
from tests.support.many_states import in_gnumeric, in_libreoffice

VERDICT = "plan.proof_said"
BREAKS = (1.01, 0.99)


def proof_alone(model: Model) -> Edition:
    """The edition with only the cells that the verdict depends on, and all constants."""
    places = {slot.place: slot for slot in model.layout.slots}
    wanted: dict[str, Slot] = {}
    left = [slot for slot in places.values() if name_of(slot) == VERDICT]
    while left:
        slot = left.pop()
        if name_of(slot) not in wanted:
            wanted[name_of(slot)] = slot
            left += model.compiled[slot.place].reads if slot.place in model.compiled else ()
    edition = edition_of_model(model)
    kept = {p: c for p, c in edition.cells.items() if c.name in wanted or c.name in model.spec.constants}
    return replace(edition, cells=kept)


def constants_read(model: Model) -> frozenset[str]:
    """The constants that a formula of the proof names: no other can turn the verdict."""
    edition = proof_alone(model)
    cells = {cell.name for cell in edition.cells.values()}
    formulas = [s.row.formula_of(s.instance) for s in model.layout.slots if name_of(s) in cells]
    return frozenset(name for formula in formulas if formula for name in names(formula) if name in model.spec.constants)


def verdicts(edition: Edition, breaks: Sequence[tuple[str, float]], folder: Path, engine: str) -> list[str]:
    """The verdict in a program with each constant multiplied by its factor, typed over in one open workbook."""
    place = {cell.name: place for place, cell in edition.cells.items()}
    states = [{place[key]: float(edition.cells[place[key]].holds) * factor} if key else {} for key, factor in breaks]
    path, (title, verdict) = write_bare(edition, {}, folder / "proof.xlsx"), place[VERDICT]
    run = in_libreoffice if engine == "libreoffice" else in_gnumeric
    return [str(cells[title, verdict]) for cells in run(path, states, {title: [verdict]})]
