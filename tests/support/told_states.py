"""What LibreOffice's macro tells of typed states: texts of whole areas, and of which kind each formula's result is."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from openpyxl.utils import get_column_letter, range_boundaries

from builder.engine.exchange.cellvalues import Cells

SHOWN_ERROR = "#ERROR!"


def whole(areas: Sequence[str]) -> str:
    """From the first cell of a sheet to the last one of some areas."""
    ends = [range_boundaries(area)[2:] for area in areas]
    return f"A1:{get_column_letter(max(end[0] for end in ends))}{max(end[1] for end in ends)}"


def told_states(text: str) -> list[Cells]:
    """The cells with formulas, each by the kind of its result: a text "1" is no number, an error no empty text."""
    states: list[Cells] = []
    kinds: dict[str, str] = {}
    sheet, first, line = "", 0, 0
    for told in filter(None, text.split("\n")):
        key, *parts = told.split("\t")
        if key == "state":
            states.append({})
        elif key == "kinds":
            kinds = {cell: kind for kind, areas in zip("nte", parts[1:], strict=True) for cell in _cells_of(areas)}
        elif key == "area":
            sheet = parts[0]
            first, line, _, _ = range_boundaries(parts[1])
        else:
            for column, shown in enumerate(parts, first):
                cell = f"{get_column_letter(column)}{line}"
                kind = kinds.get(cell)
                if kind is not None:
                    value = {"e": lambda _: SHOWN_ERROR, "n": float, "t": lambda said: said or None}[kind](shown)
                    states[-1][sheet, cell] = value
            line += 1
    return states


@lru_cache(maxsize=4096)  # most kinds of most sheets are the same from state to state
def _cells_of(areas: str) -> tuple[str, ...]:
    """The cells of areas as LibreOffice lists them: 'Sheet.B1:C3,Sheet.D5'."""
    found = []
    for area in areas.split(",") if areas else ():
        left, top, right, bottom = range_boundaries(area.rpartition(".")[2])
        found += [f"{get_column_letter(c)}{r}" for r in range(top, bottom + 1) for c in range(left, right + 1)]
    return tuple(found)
