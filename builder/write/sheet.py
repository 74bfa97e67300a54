"""Writes the blocks of one sheet: labels, units, heads, typed cells with their limits, constants, formulas with values."""

from __future__ import annotations

from typing import Any

from builder.layout import Place, Section, Slot
from builder.spec.model import Input, Row
from builder.write.job import Job
from builder.write.styles import number_format
from builder.write.validation import add_validation


def write_block_section(job: Job, sheet: Any, section: Section) -> None:
    """The fixed texts of one section: its title, its head line, its labels and units."""
    block, words = section.block, job.spec.words
    if block.pinned:
        return
    if block.text:
        sheet.write_string(section.title_line, 0, words.get("title", block.key), job.styles.get("block"))
        for number, key in enumerate(block.text):
            sheet.write_string(section.first_line + number, 0, words.get("text", key), job.styles.get("text"))
        return
    if section.title_line is not None and block.titled:
        eye = f" – {words.get('word', section.eye + '_eye')}" if section.eye else ""
        title = words.get("title", block.key.removesuffix("_used").removesuffix("_refused"))
        width = len(job.sheet_spec(section.sheet).columns)
        sheet.write_string(section.title_line, 0, title + eye, job.styles.get("block"))
        for column in range(1, width):
            sheet.write_blank(section.title_line, column, None, job.styles.get("block"))
    if block.layout == "down":
        _heads_down(job, sheet, section)
    else:
        _heads_across(job, sheet, section)


def _heads_down(job: Job, sheet: Any, section: Section) -> None:
    tallest = 1
    for number, row in enumerate(section.block.rows):
        unit = f" ({job.spec.words.get('unit', row.unit)})" if row.unit else ""
        text = job.label(row) + unit
        column = section.column + number
        sheet.write_string(section.head_line, column, text, job.styles.get("head"))
        width = job.sheet_spec(section.sheet).columns[column]
        tallest = max(tallest, -(-len(text) // max(1, int(width) - 1)))
    sheet.set_row(section.head_line, 13 * tallest + 3)


def _heads_across(job: Job, sheet: Any, section: Section) -> None:
    block, words = section.block, job.spec.words
    head = job.styles.get("head")
    keys = block.instances.keys
    if block.instances.name != "plan":
        for number, instance in enumerate(keys):
            sheet.write_string(section.head_line, section.column + number, job.instance_label(block, instance), head)
    if block.key.endswith(("_from", "_to")):
        which = "column_from" if block.key.endswith("_from") else "column_to"
        sheet.write_string(section.head_line, section.column, words.get("word", which), head)
    if block.beside is None:
        unit_column = 1 + max(len(keys), 2)
        for number, row in enumerate(block.rows):
            line = section.first_line + number
            label = job.label(row)
            if row.link:
                target = job.spec.words.get("sheet", row.link)
                sheet.write_url(line, 0, f"internal:'{target}'!A1", job.styles.get("link"), string=label)
            else:
                sheet.write_string(line, 0, label, job.styles.get("label"))
            if row.unit and block.show_unit:
                sheet.write_string(line, unit_column, words.get("unit", row.unit), job.styles.get("unit"))


def write_slot(job: Job, sheet: Any, slot: Slot) -> None:
    """One cell: typed, constant or formula with its stored value."""
    row, place = slot.row, slot.place
    role = row.role(slot.instance)
    style = style_of(job, row, role)
    if role == "typed":
        value = job.typed.get(place)
        _write(sheet, place, value, style)
        assert row.input is not None
        add_validation(job, sheet, slot, row.input)
    elif role == "constant":
        _write(sheet, place, job.constant_value(row, slot.instance), style)
    else:
        value = job.values[place]
        sheet.write_formula(place.line, place.column, "=" + job.compiled[place].formula, style, "" if value is None else value)


def style_of(job: Job, row: Row, role: str) -> Any:
    """The format of a cell from its row and role."""
    item: Input | None = row.input
    date = item is not None and item.type == "date" or row.key in job.date_keys or row.style == "date"
    number = "" if row.is_word else number_format(row.decimals, row.unit, date)
    return job.styles.get("plain", "word" if row.is_word else "number", "constant" if role == "constant" else "",
                          row.style, number=number)


def _write(sheet: Any, place: Place, value: Any, style: Any) -> None:
    if value is None or value == "":
        sheet.write_blank(place.line, place.column, None, style)
    elif isinstance(value, bool):
        sheet.write_boolean(place.line, place.column, value, style)
    elif isinstance(value, str):
        sheet.write_string(place.line, place.column, value, style)
    else:
        sheet.write_number(place.line, place.column, value, style)


def set_page(job: Job, sheet: Any, key: str) -> None:
    """Widths, frozen head, protection, paper and footer of a sheet."""
    spec = job.sheet_spec(key)
    for column, width in enumerate(spec.columns):
        sheet.set_column(column, column, width)
    title = job.spec.words.get("sheet", key)
    sheet.write_string(0, 0, title, job.styles.get("title"))
    sheet.write_string(1, 0, job.spec.words.get("word", "page_caution"), job.styles.get("caution"))
    sheet.write_string(2, 0, job.spec.words.get("word", "type_next_label"), job.styles.get("next"))
    sheet.set_row(0, 21)
    sheet.freeze_panes(3, 1)
    sheet.protect("", {"select_locked_cells": True, "select_unlocked_cells": True, "format_columns": True, "format_rows": True})
    if spec.landscape:
        sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)
    sheet.set_margins(left=0.45, right=0.45, top=0.5, bottom=0.7)
    sheet.repeat_rows(0, 1)
    sheet.hide_gridlines(2)
    sheet.set_footer(f"&L&8{job.edition}&C&8{title}&R&8&P / &N")
