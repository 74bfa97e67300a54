"""Which names a workbook's blocks and inputs speak of: a constant that none of them names has no cell in it."""

from __future__ import annotations

from collections.abc import Iterable

from builder.engine.spec.model import Block, Input
from builder.engine.spec.tokens import names


def cited_names(blocks: Iterable[Block], inputs: Iterable[Input]) -> set[str]:
    """Every name in a formula, a guard, an echo, a limit, a default or a shading."""
    found: set[str] = set()
    for block in blocks:
        found |= set(block.shade)
        for row in block.rows:
            for formula in (row.formula, row.echo, *row.formulas.values()):
                found |= set(names(formula.replace("@", "each"))) if formula else set()
            found |= {*(row.needs or ()), *(row.any_of or ())}
    for item in inputs:
        ends = (item.lowest, item.highest, item.show_lowest, item.show_highest, item.default)
        found |= {end for end in ends if isinstance(end, str)}
    return found
