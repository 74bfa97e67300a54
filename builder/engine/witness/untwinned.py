"""The rows without a twin: their cells by their own formulas, upon the reference's values of all that they read.

They only display, are steps on the way to rows that the reference has, or follow from such steps.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from typing import Any

from builder.engine.layout import Place, Slot
from builder.engine.model import Model
from builder.engine.spec import SpecError
from builder.engine.spec.model import Row
from builder.engine.witness.book import Book, Cell, plain
from builder.engine.witness.functions import DECIMAL_SIGN
from builder.engine.witness.workbook import fixed_cells

Key = tuple[str, str]  # list and key of a row


class Untwinned:
    """The formulas of those rows, translated once for a model.

    `twins`: the rows that the reference gives, by list and key; left out: all but those that only display. `read`: the
    formula cells of other rows that they read, which a case must give. `digits`: by their own cells, the decimals to
    which each is rounded.
    """

    def __init__(self, model: Model, twins: Container[Key] | None = None) -> None:
        self._sign = model.spec.words.decimal_sign
        shown = {place: model.compiled[place] for place in _without_twin(model, twins)}
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
        """The value of each of these cells, from these values (None: empty text) of the cells it reads."""
        self._book.put(self._reads, ["" if cells[place] is None else plain(cells[place]) for place in self.read])
        before = DECIMAL_SIGN.set(self._sign)
        try:
            return dict(zip(self.digits, self._book.take(self._shown), strict=True))
        finally:
            DECIMAL_SIGN.reset(before)

    def _cell(self, place: Place) -> Cell:
        return self._titles[place.sheet], place.line, place.column


def _without_twin(model: Model, twins: Container[Key] | None) -> list[Place]:
    """The cells that only display or are steps, and those that follow from them. Raises SpecError for an idle step."""
    rows: dict[Key, Row] = {}
    reads: dict[Key, set[Key]] = {}
    for cell in model.compiled.values():
        rows[key_of(cell.slot)] = cell.slot.row
        reads.setdefault(key_of(cell.slot), set()).update(map(key_of, cell.reads))
    known = rows if twins is None else twins
    found: dict[Key, bool] = {}
    typed = {key_of(slot) for slot in model.layout.slots if slot.row.input is not None}

    def alone(key: Key) -> bool:
        if key not in found:
            row = rows[key]
            found[key] = row.display or (key not in known and row.step)
            if not found[key] and key not in known and (row.echo or row.follows):
                found[key] = any(alone(read) for read in reads[key] if read in rows)
        return found[key]

    held = [key for key in rows if not alone(key)]
    for key, row in rows.items():
        if found[key] and reads[key] & typed:
            raise SpecError(row.file, row.key, "reads what is typed and has no twin", "Compute it in the reference")
    _refuse_idle({key: row for key, row in rows.items() if found[key] and row.step}, held, reads)
    return [place for place, cell in model.compiled.items() if found[key_of(cell.slot)]]


def _refuse_idle(steps: Mapping[Key, Row], held: Iterable[Key], reads: Mapping[Key, set[Key]]) -> None:
    """A step leads to a row that has a twin: else nothing would tell that it is wrong."""
    counted, wait = set(held), list(held)
    while wait:
        more = reads.get(wait.pop(), set()) - counted
        counted |= more
        wait += more
    for key, row in steps.items():
        if key not in counted:
            wrong = f"is a step in {key[0]} and leads to no row that the reference gives"
            raise SpecError(row.file, row.key, wrong, "Leave out `step`, and compute it in the reference")


def key_of(slot: Slot) -> Key:
    """The list and the key of a slot's row."""
    return slot.block.instances.name, slot.row.key
