"""Reads the text files under specs/ into one checked model (`load.py`); knows nothing of cells."""

from builder.engine.spec.errors import SpecError
from builder.engine.spec.lists import InstanceList
from builder.engine.spec.model import Block, Input, Row, Sheet
from builder.engine.spec.words import Words
from builder.engine.spec.workbook import WorkbookSpec

__all__ = ["Block", "Input", "InstanceList", "Row", "Sheet", "SpecError", "Words", "WorkbookSpec"]
