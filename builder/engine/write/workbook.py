"""Writes a whole workbook file from the model, the formulas and the values."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

from xlsxwriter.exceptions import FileCreateError

from builder.engine.kept import kept
from builder.engine.layout import Place
from builder.engine.model import Model, edition_taken
from builder.engine.write.book import open_book
from builder.engine.write.charts import write_charts
from builder.engine.write.job import Job
from builder.engine.write.measure import every_wording
from builder.engine.write.shading import shade_block
from builder.engine.write.sheet import start_sheet, write_block_section, write_slot
from builder.engine.write.styles import Styles
from builder.engine.write.tables import GENERATED


class Fixed(NamedTuple):
    """How many shared texts a workbook has that nobody typed, and by how many cells they are used."""

    texts: int
    uses: int


def write_workbook(model: Model, path: Path, values: Mapping[Place, Any], typed: Mapping[Place, Any]) -> Fixed:
    """Writes `path`. `values` has one value for each formula cell (None: empty text), `typed` what the inputs hold.

    What is typed comes last, so that the fixed texts are the same, and first, in every workbook of a model.

    Raises OSError when the file cannot be written.
    """
    spec = model.spec
    book = open_book(
        path, spec.language, *(spec.words.get("text", f"{spec.name}_{part}") for part in ("title", "subject"))
    )
    job = Job(
        spec,
        model.layout,
        model.constants,
        model.compiled,
        model.edition,
        edition_taken(model),
        values,
        typed,
        Styles(book, spec.styles),
        book,
        model.wordings,
    )
    if not model.wordings:
        model.wordings.update(kept(f"wordings-{spec.title}-{model.edition}", lambda: every_wording(job)))
    sheets = {sheet.key: book.add_worksheet(spec.sheet_title(sheet.key)) for sheet in spec.sheets}
    for sheet in spec.sheets:
        target = sheets[sheet.key]
        start_sheet(job, target, sheet.key)
        write_charts(job, target, sheet.key)
        for block in sheet.blocks:
            if block.shade and block.layout == "down" and any(row.input for row in block.rows):
                shade_block(job, target, block)
        if sheet.generated in GENERATED:
            GENERATED[sheet.generated](job, target)
    for section in model.layout.sections:
        write_block_section(job, sheets[section.sheet], section)
    first_input: dict[str, Place] = {}
    inputs = [slot for slot in model.layout.slots if slot.row.input is not None]
    for slot in model.layout.slots:
        if slot.row.input is None:
            write_slot(job, sheets[slot.place.sheet], slot)
    fixed = Fixed(book.str_table.unique_count, book.str_table.count)
    for slot in inputs:
        write_slot(job, sheets[slot.place.sheet], slot)
        if slot.row.input is not None and not slot.row.input.default:  # what may stay empty is passed over
            first_input.setdefault(slot.place.sheet, slot.place)
    for key, page in job.pages.items():
        page.finish(sheets[key])
    for key, place in first_input.items():
        sheets[key].set_selection(place.line, place.column, place.line, place.column)
    book.get_worksheet_by_name(spec.sheet_title(spec.sheets[0].key)).activate()
    try:
        book.close()
    except FileCreateError as error:  # the library wraps what the system says
        raise error.args[0] from None
    return fixed
