"""What a formula cell is, apart from how it is made: what is kept of a workbook is read again without that."""

from __future__ import annotations

from typing import NamedTuple

from builder.engine.layout import Slot


class Compiled(NamedTuple):
    """A formula cell: its formula in cells (without the equals sign) and the slots it reads.

    In a long list only the first line says what it reads; the others are its copies.
    """

    slot: Slot
    formula: str
    reads: tuple[Slot, ...]
