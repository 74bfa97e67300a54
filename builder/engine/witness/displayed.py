"""The rows that only display: their cells by their own formulas, upon the reference's values of all that they read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from builder.engine.layout import Place
from builder.engine.model import Model
from builder.engine.witness.book import Book, Cell
from builder.engine.witness.functions import DECIMAL_SIGN
from builder.engine.witness.workbook import fixed_cells


class Displayed:
    """The formulas of those rows, translated once for a model.

    `read`: the formula cells of other rows that they read, which a case must give. `digits`: by their own cells, the
    decimals to which each is rounded.
    """

    def __init__(self, model: Model) -> None:
        self.model = model
        shown = {place: cell for place, cell in model.compiled.items() if cell.slot.row.display}
        self.digits = {place: cell.slot.row.steady_digits for place, cell in shown.items()}
        self._titles = {sheet.key: model.spec.sheet_title(sheet.key) for sheet in model.spec.sheets}
        cells = {self._cell(place): cell.formula for place, cell in shown.items()}
        self._book = Book(cells, {})
        leaves, keys = self._book.leaves, {title: key for key, title in self._titles.items()}
        places = [Place(keys[title], line, column) for title, line, column in leaves]
        fixed = fixed_cells(model, set(places))
        self._book.type({cell: fixed.get(place) for place, cell in zip(places, leaves, strict=True)})
        self.read = dict.fromkeys(place for place in places if place in model.compiled)
        self._reads = self._book.nodes(self._cell(place) for place in self.read)
        self._shown = self._book.nodes(cells)

    def values(self, cells: Mapping[Place, Any]) -> dict[Place, Any]:
        """The value of each cell that only displays, from these values (None: empty text) of the cells it reads."""
        self._book.put(self._reads, ["" if cells[place] is None else cells[place] for place in self.read])
        before = DECIMAL_SIGN.set(self.model.spec.words.decimal_sign)
        try:
            return dict(zip(self.digits, self._book.take(self._shown), strict=True))
        finally:
            DECIMAL_SIGN.reset(before)

    def _cell(self, place: Place) -> Cell:
        return self._titles[place.sheet], place.line, place.column
