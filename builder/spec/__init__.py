"""Reads the text files under specs/ into one checked model (`load.py`); knows nothing of cells."""

from builder.spec.errors import SpecError
from builder.spec.model import Block, Input, InstanceList, Row, Sheet, WorkbookSpec
from builder.spec.words import Words

__all__ = ["Block", "Input", "InstanceList", "Row", "Sheet", "SpecError", "Words", "WorkbookSpec"]
