"""Any engine in the place of our own witness: the same states, and every formula cell as that engine computes it."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Mapping, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any

from builder.engine.exchange.cellvalues import Cells
from builder.engine.exchange.formulas_model import FormulasModel
from builder.engine.exchange.gnumeric import ssconvert
from builder.engine.exchange.office import soffice
from builder.engine.layout import Place
from builder.engine.model import Model
from builder.engine.witness.workbook import Witness, fixed_cells
from tests.support import reserve
from tests.support.compiled import Compiled
from tests.support.filled import fill
from tests.support.programs import PROGRAMS, Program
from tests.support.workbooks import Typed, at

ENGINES = ("cells", "ironcalc", "formualizer", "formulas", *PROGRAMS)


class Library:
    """A library that gives all cells of the workbook for what is typed."""

    def __init__(self, model: Model, cells: Callable[[Typed], Cells]) -> None:
        self._model, self._cells = model, cells
        self.fixed = fixed_cells(model)

    def values(self, typed: Mapping[Place, Any]) -> dict[Place, Any]:
        """The value of every formula cell, as `Witness.values` gives them."""
        found = self._cells(typed)
        return {place: found.get(at(self._model, place)) for place in self._model.compiled}

    def reads(self, place: Place) -> list[Place]:
        """The cells with a key that a formula cell names."""
        return [slot.place for slot in self._model.compiled[place].reads]


Asked = Witness | Compiled | Program | Library


def asked(engine: str, model: Model, folder: Path) -> Asked:
    """An engine that is ready to compute states of a workbook. Raises EngineMissing, EngineFailed."""
    if engine == "cells":
        return Witness(model)
    if engine == "ironcalc":
        return Compiled.written(model, folder)
    if engine in PROGRAMS:
        return Program(model, engine, folder)
    if engine == "formulas":
        path = folder / "blank.xlsx"
        fill(model, {}, path)
        loaded = FormulasModel(path)
        return Library(model, lambda typed: loaded.calculate({at(model, p): value for p, value in typed.items()}))

    def from_a_file(typed: Typed) -> Cells:
        path = folder / "typed.xlsx"
        fill(model, typed, path)
        return reserve.recalculated(path)

    return Library(model, from_a_file)


def together(engine: Asked, states: Sequence[Typed]) -> None:
    """Has an engine that computes many states at once do so; `values` then gives them in this order."""
    if isinstance(engine, Program):
        engine.ask(states)


def named(engine: str) -> str:
    """An engine with its version."""
    if engine == "cells":
        return "our witness"
    if engine in PROGRAMS:
        program = soffice() if engine == "libreoffice" else ssconvert()
        done = subprocess.run([program, "--version"], capture_output=True, text=True, check=False)
        told = f"{done.stdout} {done.stderr}".replace("'", " ").split()
        number = next(word for word in told if word[:1].isdigit())
        return f"{'LibreOffice' if engine == 'libreoffice' else 'Gnumeric'} {number}"
    return f"{engine} {version(engine)}"
