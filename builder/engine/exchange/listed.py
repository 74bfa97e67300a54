"""A file's own formula list, by which its cells are found."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from builder.engine.addresses import address, within
from builder.engine.exchange.cellvalues import Cells
from builder.engine.spec.reading import SPECS
from builder.engine.spec.words import shared_words
from builder.engine.told import Told
from builder.engine.write.tables import LIST_HEADS

LARGEST_AREA = 10_000  # cells of one row of a block; the longest of our own has some 500


class NotOurs(Told):
    """A file without the formula list by which keys are found."""


def list_lines(cells: Cells, name: str = "the file", specs: Path = SPECS) -> list[dict[str, str]]:
    """The lines of the file's formula list, by head."""
    for words in shared_words(specs):
        heads = [words.get("word", key) for key in LIST_HEADS]
        for (sheet, cell), value in cells.items():
            if value == heads[0] and cell.startswith("A"):
                line = int(cell[1:])
                if [cells.get((sheet, address(n + 1, line))) for n in range(len(heads))] == heads:
                    return _lines(cells, sheet, line + 1)
    raise NotOurs(f"{name}: no formula list was found, so it is not one of our workbooks")


def _lines(cells: Cells, sheet: str, line: int) -> list[dict[str, str]]:
    found = []
    while cells.get((sheet, f"A{line}")) is not None:
        texts = [cells.get((sheet, address(n + 1, line))) for n in range(len(LIST_HEADS))]
        found.append({key.removeprefix("list_"): str(text or "") for key, text in zip(LIST_HEADS, texts, strict=True)})
        line += 1
    return found


def listed_edition(cells: Cells, lines: Iterable[Mapping[str, str]], row: str) -> str:
    """The edition that a file's own list finds in it, by the row that shows it; empty when it tells none."""
    for line in lines:
        if line["name"] == row:
            told = cells.get((line["sheet"], line["cells"]))
            return told if isinstance(told, str) else ""
    return ""


def area_cells(sheet: str, area: str) -> list[tuple[str, str]]:
    """The cells of an area such as B12:C12, line by line."""
    return [(sheet, cell) for cell in within(area, LARGEST_AREA)]
