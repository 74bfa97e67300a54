"""LibreOffice and Gnumeric in the place of the witness: many drawn states, typed into one workbook that stays open."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from builder.engine.layout import Place
from builder.engine.model import Model
from builder.engine.witness.workbook import fixed_cells
from tests.support.filled import fill
from tests.support.judged import areas_told, as_numbers
from tests.support.many_states import in_gnumeric, in_libreoffice
from tests.support.workbooks import Typed, at, expected

PROGRAMS = ("libreoffice", "gnumeric")


class Program:
    """A program that is asked for many states at once, before each of them is compared."""

    def __init__(self, model: Model, engine: str, folder: Path) -> None:
        """Raises EngineMissing, EngineFailed."""
        self._model, self._engine, self._path = model, engine, folder / "blank.xlsx"
        fill(model, {}, self._path)
        self._answers: deque[dict[Place, Any]] = deque()
        self.fixed = fixed_cells(model)

    def ask(self, states: Sequence[Typed]) -> None:
        """Has the program compute these states; `values` then gives them in this order."""
        typed = [{at(self._model, place): value for place, value in state.items()} for state in states]
        run = in_libreoffice if self._engine == "libreoffice" else in_gnumeric
        found: list[Any] = run(self._path, typed, areas_told(self._model))
        if self._engine == "gnumeric":
            wanted = expected(self._model, list(states))
            found = [as_numbers(self._model, cells, told) for cells, told in zip(wanted, found, strict=True)]
        self._answers = deque(
            {place: cells.get(at(self._model, place)) for place in self._model.compiled} for cells in found
        )

    def values(self, typed: Mapping[Place, Any]) -> dict[Place, Any]:
        """The value of every formula cell, as `Witness.values` gives them."""
        if not self._answers:
            self.ask([dict(typed)])
        return self._answers.popleft()

    def reads(self, place: Place) -> list[Place]:
        """The cells with a key that a formula cell names."""
        return [slot.place for slot in self._model.compiled[place].reads]
