"""What a workbook with spoilt inputs shows that it should not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import groupby
from typing import Any

from xlsxwriter.utility import xl_rowcol_to_cell

from builder.engine.exchange.cellvalues import Cells
from builder.engine.layout import Place
from builder.engine.model import Model
from builder.planner.reference.eyes import EYES
from tests.support.many_states import Areas, told
from tests.support.rubbish import eyes_concerned, inputs, names_it
from tests.support.told_states import SHOWN_ERROR
from tests.support.workbooks import at, errors


def areas_told(model: Model) -> Areas:
    """Areas that hold every formula cell and little else: lines that begin and end at the same columns, together."""
    ends: dict[str, dict[int, tuple[int, int]]] = {}
    for place in model.compiled:
        lines = ends.setdefault(at(model, place)[0], {})
        first, last = lines.get(place.line, (place.column, place.column))
        lines[place.line] = min(first, place.column), max(last, place.column)
    return {title: list(_joined(lines)) for title, lines in ends.items()}


def _joined(ends: Mapping[int, tuple[int, int]]) -> Iterator[str]:
    for (first, last), run in groupby(sorted(ends), lambda line: ends[line]):
        lines = list(run)
        for _, block in groupby(lines, lambda line, lines=lines: line - lines.index(line)):
            together = list(block)
            yield f"{xl_rowcol_to_cell(together[0], first)}:{xl_rowcol_to_cell(together[-1], last)}"


def as_numbers(
    model: Model, wanted: Mapping[Place, Any], texts: Mapping[tuple[str, str], str | None]
) -> dict[tuple[str, str], Any]:
    """Texts as numbers where a number is expected, for an engine that hands over plain text."""
    numbers = {
        cell: told(texts.get(cell), wanted[place])
        for place, cell in model.formula_cells.items()
        if isinstance(wanted[place], int | float)
    }
    return {**texts, **numbers}


def shown_errors(cells: Cells, but: set[tuple[str, str]]) -> list[str]:
    """Every cell that shows an error value."""
    return errors(cells, but) + [
        f"{place}" for place, value in cells.items() if value == SHOWN_ERROR and place not in but
    ]


def faults(model: Model, cells: Cells, pasted: Mapping[Place, Any]) -> list[str]:
    """Every pasted cell that is not answered as it must be: a lens shown all the same, or no sentence that names it."""
    slots = [slot for slot in inputs(model) if slot.place in pasted]
    shown = {eye: (released_cells(model, cells, eye), sentences(model, cells, eye)) for eye in EYES}
    found = []
    for slot in slots:
        # A lens of the clinic names the first of its refused cells.
        named_by = next(s for s in slots if s.instance == slot.instance) if slot.instance.startswith("own") else slot
        for eye in eyes_concerned(slot):
            released, said = shown[eye]
            found += [f"{slot.row.key} {eye}: shows {key}" for key in released]
            if not names_it(model, named_by, said):
                found.append(f"{slot.row.key} {eye}: no sentence names it")
    return found


def released_cells(model: Model, cells: Cells, eye: str) -> list[str]:
    """The keys of an eye's cells that show a released lens."""
    released = [key for owner, key in model.layout.by_row if owner == "eyes" and key.startswith("released")]
    return [key for key in released if at_eye(model, cells, key, eye) not in (None, "0", 0.0)]


def at_eye(model: Model, cells: Cells, key: str, eye: str) -> Any:
    """What an eye's cell of a row shows."""
    return cells.get(at(model, model.layout.cells("eyes", key)[eye, eye].place))


def sentences(model: Model, cells: Cells, eye: str) -> list[str]:
    """The reasons and warnings that concern an eye."""
    found = [
        cells.get(at(model, slot.place))
        for owner, key in (("points", "point_sentence"), ("plan_points", "plan_point_sentence"))
        for slot in model.layout.cells(owner, key).values()
        if slot.side in ("", eye)
    ]
    return [sentence for sentence in found if isinstance(sentence, str)]
