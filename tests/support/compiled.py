"""IronCalc in the place of the witness: the same questions, answered by a compiled engine of another house."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from builder.engine.exchange.ironcalc_model import IronCalcModel
from builder.engine.layout import Place
from builder.engine.model import Model
from builder.engine.witness.workbook import fixed_cells
from tests.support.filled import fill
from tests.support.workbooks import at


class Compiled:
    """The blank workbook of a model, loaded once from a file; each state is computed whole."""

    def __init__(self, model: Model, loaded: IronCalcModel) -> None:
        self._model, self._loaded = model, loaded
        self._places = {at(model, place): place for place in model.compiled}
        self.fixed = fixed_cells(model)

    @classmethod
    def written(cls, model: Model, folder: Path) -> Compiled:
        """Of a file that is written for it. Raises EngineMissing, EngineFailed."""
        path = folder / "blank.xlsx"
        fill(model, {}, path)
        return cls(model, IronCalcModel(path))

    def values(self, typed: Mapping[Place, Any]) -> dict[Place, Any]:
        """The value of every formula cell with these cells typed, as `Witness.values` gives them."""
        found = self._loaded.calculate({at(self._model, place): value for place, value in typed.items()}, self._places)
        return {self._places[name]: value for name, value in found.items()}

    def reads(self, place: Place) -> list[Place]:
        """The cells with a key that a formula cell names."""
        return [slot.place for slot in self._model.compiled[place].reads]
