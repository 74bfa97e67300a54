"""What every writing step needs at hand: the spec, where things stand, the formulas, the values, what is typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from builder.engine.formula.compiled import Compiled
from builder.engine.layout import Layout, Place
from builder.engine.model import constant_value, label_of
from builder.engine.spec import Block, Row, Sheet, WorkbookSpec
from builder.engine.write.page import Page
from builder.engine.write.styles import Styles


@dataclass
class Job:
    """One workbook being written."""

    spec: WorkbookSpec
    layout: Layout
    constants: Mapping[str, Place]
    compiled: Mapping[Place, Compiled]
    edition: str
    edition_taken: str
    values: Mapping[Place, Any]
    typed: Mapping[Place, Any]
    styles: Styles
    book: Any
    found_wordings: dict[tuple[str, str], list[str]]
    pages: dict[str, Page] = field(default_factory=dict)
    styles_of_lines: dict[tuple[str, str, str], tuple[Any, float]] = field(default_factory=dict)

    def sheet_spec(self, key: str) -> Sheet:
        """The spec of a sheet."""
        return next(sheet for sheet in self.spec.sheets if sheet.key == key)

    def label(self, row: Row) -> str:
        """The label of a row, with whose it is when a row set serves several."""
        return label_of(self.spec, row)

    def instance_label(self, block: Block, instance: str) -> str:
        """The head of a column: the side, or the label of the instance."""
        words = self.spec.words
        if block.instances.per == "sides":
            return self.spec.side_title(instance)
        if block.instances.apart:
            return words.get("word", f"example_{instance}")
        key = f"{block.instances.name}_{instance}"
        return words.get("label", key) if words.has("label", key) else words.get("choice", instance)

    def constant_value(self, row: Row, instance: str) -> Any:
        """The value of a constant cell."""
        return constant_value(self.spec, row, instance, self.edition, self.edition_taken)
