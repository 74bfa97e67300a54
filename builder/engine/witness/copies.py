"""A formula copied down: the same but for the lines of its cells, which move where no $ stands before them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from builder.engine.addresses import apart, spot
from builder.engine.witness.translate import CELL_OR_TEXT

MOVING = re.compile(r"(?<=[A-Z])[0-9]+")  # the line of such a cell

Spot = tuple[str, int, int]  # sheet title, line and column from 0


class Copied:
    """A formula in a cell of a sheet, and what its copies below it say.

    `pattern`: the formula with @ in the place of each cell or area. `names`: of each of these its corners, and how far
    each of them moves with each line, 1 or 0.
    """

    def __init__(self, sheet: str, formula: str) -> None:
        self.names: list[tuple[list[Spot], list[int]]] = []
        self.pattern, self._text, done = "", "", 0
        self._lines: list[int] = []
        for found in CELL_OR_TEXT.finditer(formula):
            if found[1] is not None:
                title, area = apart(found[1])
                self._take(title or sheet, area.split(":"))
                self.pattern += formula[done : found.start(1)] + "@"
                before = formula[done : found.end(1) - len(area)]
                self._text += before.replace("%", "%%") + MOVING.sub("%d", area)
                done = found.end(1)
        self.pattern += formula[done:]
        self._text += formula[done:].replace("%", "%%")

    def _take(self, title: str, corners: Sequence[str]) -> None:
        spots = [spot(corner) for corner in corners]
        moves = [int(MOVING.search(corner) is not None) for corner in corners]
        self.names.append(([(title, line - 1, column - 1) for column, line in spots], moves))
        self._lines += [line for (_, line), moving in zip(spots, moves, strict=True) if moving]

    def formula(self, down: int) -> str:
        """What its copy so many lines further down says."""
        return self._text % tuple([line + down for line in self._lines])


def runs(formulas: Mapping[Spot, str]) -> Iterator[tuple[Spot, Copied, int]]:
    """Each formula with its cell and how many there are of it, its copies in the cells below it counted."""
    columns: dict[tuple[str, int], list[tuple[int, str]]] = {}
    for (sheet, line, column), formula in formulas.items():
        columns.setdefault((sheet, column), []).append((line, formula))
    for (sheet, column), cells in columns.items():
        first, copied, count = 0, None, 0
        for line, formula in sorted(cells):
            if copied is not None and line == first + count and copied.formula(count) == formula:
                count += 1
                continue
            if copied is not None:
                yield (sheet, first, column), copied, count
            first, copied, count = line, Copied(sheet, formula), 1
        if copied is not None:
            yield (sheet, first, column), copied, count
