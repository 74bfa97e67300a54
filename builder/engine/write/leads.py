"""Links from a reason to the cell that it sends to: one for each point, for a program follows a fixed place only.

A line whose reason changes leads to the sheet that has all of them, each with its own link.
"""

from __future__ import annotations

from typing import Any

from builder.engine.layout import Slot
from builder.engine.spec.lists import sentence_rows
from builder.engine.write.job import Job


def lead_to_cell(job: Job, sheet: Any, slot: Slot, style: Any) -> None:
    """Makes the cell of a point's sentence, or of a line that leads to a sheet, a link; its value is written later."""
    if slot.row.link and slot.block.layout == "down":
        target = f"internal:'{job.spec.sheet_title(slot.row.link)}'!A1"
        sheet.write_url(slot.place.line, slot.place.column, target, style, string=slot.place.address)
        return
    if sentence_rows(job.spec.once).get(slot.block.instances.name) != slot.row.key:
        return
    point = next(point for point in job.spec.points if point.key == slot.instance)
    if not point.cell:
        return
    (owner,) = job.layout.lists_of[f"typed_{point.cell}"]
    cells = job.layout.cells(owner, f"typed_{point.cell}")
    place = next(cell.place for (side, _), cell in cells.items() if side in (slot.side, ""))
    target = f"internal:'{job.spec.sheet_title(place.sheet)}'!{place.address}"
    sheet.write_url(slot.place.line, slot.place.column, target, style, string=place.address)
