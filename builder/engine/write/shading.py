"""Shades typed values by their band: six greys that print, the flattest slanted, the steepest bold."""

from __future__ import annotations

from typing import Any

from builder.engine.addresses import address, quoted
from builder.engine.spec import SpecError
from builder.engine.spec.model import Block
from builder.engine.write.job import Job

BANDS = ("#FFFFFF", "#F0F0F0", "#E2E2E2", "#D3D3D3", "#C4C4C4", "#B4B4B4")


def shade_block(job: Job, sheet: Any, block: Block) -> None:
    """Shades the typed cells of each side by six rules: the band is (value - lowest) / width, both from cells."""
    values, low, width = block.shade
    keys = [row.key for row in block.rows if row.input is not None]
    for side in block.instances.owners:
        typed = [
            job.layout.cells(block.instances.name, key)[side, i].place for key in keys for i in block.instances.keys
        ]
        shown = [
            job.layout.cells(block.instances.name, f"{values}_{key.rpartition('_')[2]}")[side, i].place
            for key in keys
            for i in block.instances.keys
        ]
        shifts = {(a.line - b.line, a.column - b.column) for a, b in zip(typed, shown, strict=True)}
        if len(shifts) != 1:
            raise SpecError(
                block.file,
                block.key,
                "is shaded by cells in another order",
                "Lay out the values as the typed cells are",
            )
        first = f"{quoted(job.spec.sheet_title(shown[0].sheet))}!{shown[0].address}"
        scale = [_fixed(job, key, side) for key in (low, width)]
        for number, colour in reversed(list(enumerate(BANDS))):
            style: dict[str, Any] = {"bg_color": colour}
            if number in (0, len(BANDS) - 1):
                style |= {"italic": True} if number == 0 else {"bold": True}
            rule = f"=AND(ISNUMBER({first}),({first}-{scale[0]})/{scale[1]}>={number})"
            sheet.conditional_format(
                typed[0].line,
                typed[0].column,
                typed[-1].line,
                typed[-1].column,
                {"type": "formula", "criteria": rule, "format": job.book.add_format(style), "stop_if_true": True},
            )


def _fixed(job: Job, key: str, side: str) -> str:
    place = job.layout.cells(job.spec.sides.name, key)[side, side].place
    title = quoted(job.spec.sheet_title(place.sheet))
    return f"{title}!{address(place.column + 1, place.line + 1, True)}"
