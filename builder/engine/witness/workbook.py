"""The witness of a workbook of ours: what stands in its cells before anything is typed, and its values in a state."""

from __future__ import annotations

from collections.abc import Container, Mapping
from typing import Any

from builder.engine.layout import Layout, Place
from builder.engine.model import Model, constant_value, edition_taken, label_of
from builder.engine.witness.book import Book, Cell


class Witness:
    """A model's own formulas, translated once (a second or two); each state then costs what differs from the last."""

    def __init__(self, model: Model) -> None:
        self._titles = {sheet.key: model.spec.sheet_title(sheet.key) for sheet in model.spec.sheets}
        self._keys = {title: key for key, title in self._titles.items()}
        self._places = list(model.compiled)
        self.fixed = fixed_cells(model)
        formulas = {self._cell(place): compiled.formula for place, compiled in model.compiled.items()}
        self._formulas = list(formulas)
        self._book = Book(formulas, {self._cell(place): value for place, value in self.fixed.items()})

    def values(self, typed: Mapping[Place, Any]) -> dict[Place, Any]:
        """The value of every formula cell with these cells typed: float, text, None for an empty text.

        What must not be comes as it is: an ErrorValue, True or False."""
        self._book.type({self._cell(place): value for place, value in typed.items()})
        found = self._book.values(self._formulas)
        return dict(zip(self._places, [None if value == "" else value for value in found], strict=True))

    def reads(self, place: Place) -> list[Place]:
        """The cells that a formula cell names, areas cell by cell."""
        return [self._place(cell) for cell in self._book.reads(self._cell(place))]

    @property
    def computing(self) -> Place:
        """The formula cell that is being computed, for a test that watches."""
        return self._place(self._book.computing)

    def _place(self, cell: Cell) -> Place:
        return Place(self._keys[cell[0]], *cell[1:])

    def _cell(self, place: Place) -> Cell:
        return self._titles[place.sheet], place.line, place.column


def fixed_cells(model: Model, wanted: Container[Place] | None = None) -> dict[Place, Any]:
    """What formulas may read that is neither typed nor computed: constants, and the labels of rows.

    `wanted`: of these cells alone."""
    spec, taken = model.spec, edition_taken(model)
    held: dict[Place, Any] = labels(model.layout, model)
    held |= {place: spec.constants[key].value for key, place in model.constants.items()}
    for slot in model.layout.slots:
        if (wanted is None or slot.place in wanted) and slot.row.role(slot.instance) == "constant":
            value = constant_value(spec, slot.row, slot.instance, model.edition, taken)
            held[slot.place] = None if value == "" else value
    return held


def labels(layout: Layout, model: Model) -> dict[Place, Any]:
    """The label of every row that stands across, in the first column of its line."""
    return {
        Place(section.sheet, section.first_line + number, 0): label_of(model.spec, row)
        for section in layout.sections
        if section.block.layout == "across" and section.block.beside is None and not section.block.text
        for number, row in enumerate(section.block.rows)
        if not row.whole
    }
