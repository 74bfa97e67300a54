"""A workbook's spec as a whole: its sheets, lists, constants and words, and what it says of itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from builder.engine.spec.hazard import Hazard
from builder.engine.spec.lists import NO_SIDES, ONCE, InstanceList, Sides
from builder.engine.spec.model import Block, Input, Point, Sheet
from builder.engine.spec.reading import SPECS, Constant
from builder.engine.spec.words import ENGLISH


@dataclass(frozen=True)
class WorkbookSpec:
    """The whole workbook, checked: every row key is one name within its list.

    `constants`: those that have a cell, as a formula cites them; `figures`: the values of all that the file has.
    `home`: the folder of all specs, below which `constants_file` is. `reference`: the module that computes its values
    apart from the formulas, else the witness does. `takes_from`: the workbook whose lines it takes. `compared`: what
    the sheets serve whose printed pages are compared. `codes`: the constant modulo which no two sums of two warnings'
    codes are alike; `retired_codes`: given once. `edition`: the row that shows the workbook's edition, which only the
    builder knows; `edition_taken`: the one that shows that of the workbook whose lines it takes. `slack`: the constant
    by which a number may be beyond its limits. `once`: the built-in list of what is there once.
    """

    name: str
    sheets: tuple[Sheet, ...]
    lists: Mapping[str, InstanceList]
    constants: Mapping[str, Constant]
    figures: Mapping[str, float]
    sources: tuple[Mapping[str, str], ...]
    changes: tuple[Mapping[str, Any], ...]
    words: Any
    inputs: tuple[Input, ...]
    version: str
    styles: Mapping[str, Mapping[str, Any]]
    points: tuple[Point, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    language: str = ENGLISH
    sides: Sides = NO_SIDES
    home: Path = SPECS
    reference: str = ""
    constants_file: str = ""
    takes_from: str = ""
    compared: str = ""
    codes: str = ""
    edition: str = ""
    edition_taken: str = ""
    slack: str = ""
    once: str = ONCE
    retired_codes: tuple[int, ...] = ()

    @property
    def title(self) -> str:
        """The workbook's name among its editions: loan, or loan-es."""
        return self.name if self.language == ENGLISH else f"{self.name}-{self.language}"

    def sheet_title(self, key: str) -> str:
        """What is written on the tab of a sheet."""
        return str(self.words.get("sheet", key))

    def side_title(self, side: str) -> str:
        """What a side is called in heads and titles."""
        return str(self.words.get("word", f"{side}_{self.sides.one}"))

    def blocks(self) -> list[tuple[Sheet, Block]]:
        """All blocks with their sheets, tab by tab."""
        return [(sheet, block) for sheet in self.sheets for block in sheet.blocks]
