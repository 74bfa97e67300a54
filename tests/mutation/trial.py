"""Computes mutants beside the cells that they come from, and compares them with what the reference expects there.

A mutant reads what its cell reads and changes nothing, so many are tried in one workbook. The tests compare every
formula cell with the reference; a mutant that is nowhere different from what its own cell should show therefore
changes no other cell either, and one that is different is noticed. So the whole workbook with the mutant in its place
need not be computed.

A row that only displays is expected by its own formula there, so it is compared with what is written by hand instead
(`tests/displays`), and computed by the evaluator with the mutant in its place.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from builder.engine.exchange.fill import fill
from builder.engine.formula.compiled import Compiled
from builder.engine.layout import Place
from builder.engine.model import Model
from builder.engine.witness.untwinned import Untwinned
from tests.mutation.mutants import Mutant
from tests.support.displays import blank, written
from tests.support.many_states import in_gnumeric, told
from tests.support.scratch import TITLE, with_formulas
from tests.support.workbooks import Typed, agrees, at, expected

CHUNK = 40  # workbooks whose cells are held at once


@dataclass
class Trial:
    """What became of the mutants: the first workbook that noticed each, by the mutant's place in the list."""

    mutants: Sequence[Mutant]
    noticed: dict[int, str]

    @property
    def left(self) -> list[int]:
        """The mutants that are neither refused by the build nor noticed so far."""
        return [n for n, mutant in enumerate(self.mutants) if not mutant.refused and n not in self.noticed]

    def run(self, model: Model, workbooks: Mapping[str, Typed]) -> None:
        """Tries all that are left in more workbooks, given by what is typed into them."""
        left = [n for n in self.left if not self.mutants[n].site.row.display]
        formulas = [formula for n in left for formula in self.mutants[n].cells]
        names = list(workbooks)
        if not formulas or not names:
            return
        with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
            fill(model, {}, Path(folder) / "blank.xlsx")
            book = with_formulas(Path(folder) / "blank.xlsx", Path(folder) / "mutants.xlsx", formulas)
            for first in range(0, len(names), CHUNK):
                chunk = names[first : first + CHUNK]
                states = [{at(model, place): value for place, value in workbooks[name].items()} for name in chunk]
                seen = in_gnumeric(book, states, {TITLE: [f"A1:A{len(formulas)}"]})
                wanted = expected(model, [workbooks[name] for name in chunk])
                for name, cells, values in zip(chunk, seen, wanted, strict=True):
                    self._compare(
                        left, name, [cells.get((TITLE, f"A{n}")) for n in range(1, len(formulas) + 1)], values
                    )

    def run_displays(self, model: Model) -> None:
        """Tries those of rows that only display in every state that says what their cells should show."""
        for number in self.left:
            mutant = self.mutants[number]
            mine = {slot.place: slot for slot in mutant.site.slots}
            states = [state for state in written(model.spec.name) if mine.keys() & state.wanted.keys()]
            if not mutant.site.row.display or not states:
                continue
            cells = zip(mine.values(), mutant.cells, strict=True)
            spoilt = {slot.place: Compiled(slot, formula, ()) for slot, formula in cells}
            shown = Untwinned(replace(model, compiled={**model.compiled, **spoilt}))
            for state in states:
                found = shown.values({**blank(model.spec.name), **state.given})
                for place in mine.keys() & state.wanted.keys():
                    seen = None if found[place] == "" else found[place]
                    if not agrees(mine[place].row, state.wanted[place], seen):
                        self.noticed.setdefault(number, state.name)

    def _compare(self, left: list[int], name: str, seen: list[str | None], wanted: Mapping[Place, Any]) -> None:
        texts = iter(seen)
        for number in left:
            for slot in self.mutants[number].site.slots:
                value = wanted[slot.place]
                if not agrees(slot.row, value, told(next(texts), value)):
                    self.noticed.setdefault(number, name)
