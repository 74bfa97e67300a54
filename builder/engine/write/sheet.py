"""Writes the blocks of one sheet: labels, units, heads, typed cells, limits, constants, formulas with values."""

from __future__ import annotations

from typing import Any

from builder.engine.layout import Section, Slot
from builder.engine.spec import SpecError
from builder.engine.spec.model import Block, Row
from builder.engine.write.job import Job
from builder.engine.write.leads import lead_to_cell
from builder.engine.write.measure import height_of, lines_of, wordings
from builder.engine.write.page import LINE, LIST_LINE, Page, frozen_columns, set_page
from builder.engine.write.put import write_value
from builder.engine.write.styles import number_format
from builder.engine.write.validation import add_validation

HEAD_AIR = 3.0  # points
SHRUNK = 1.3  # times its column a text may be wide that is shown in smaller type
INDENT = 1.5  # characters that wrapped words keep off their neighbour
DATED = ("typed", "used", "lowest", "highest")  # the parts of a date that are dates themselves


def start_sheet(job: Job, sheet: Any, key: str) -> None:
    """Page, frozen head and footer of a sheet."""
    spec, words = job.sheet_spec(key), job.spec.words
    first = key == job.spec.sheets[0].key  # which is read with its cautions
    one_page = spec.one_page or bool(spec.side) or first
    page = job.pages[key] = Page(spec.columns, spec.landscape, whole=one_page, across=spec.across)
    if spec.frozen:
        page.repeated, page.repeated_columns = spec.frozen
    title = job.spec.sheet_title(key)
    set_page(sheet, page, f"&L&8 {job.edition}&C&8 {title}&R&8 &P / &N")
    heads = [(title, "title"), (words.get("word", "page_caution"), "caution")]
    if not spec.side:  # nothing is typed on the page of one side
        heads.append((words.get("word", "type_next_label"), "next"))
        band(job, sheet, key, len(heads) - 1, "next")
    for line, (text, role) in enumerate(heads):
        if role == "title" and not first and not spec.side:
            home = f"internal:'{job.spec.sheet_title(job.spec.sheets[0].key)}'!A1"
            sheet.write_url(line, 0, home, job.styles.get(role, "link"), string=text)
        else:
            sheet.write_string(line, 0, text, job.styles.get(role))
        page.need(line, height_of(1, job.styles.values(role)) + HEAD_AIR)
    sheet.set_tab_color(job.styles.values(f"tab_{spec.serves}")["bg_color"])
    sheet.freeze_panes(*(spec.frozen or (len(heads), frozen_columns(spec.columns, bool(spec.charts)))))


def write_block_section(job: Job, sheet: Any, section: Section) -> None:
    """The fixed texts of one section: its title, note, heads, labels and units."""
    block, words, page = section.block, job.spec.words, job.pages[section.sheet]
    if block.pinned:
        return
    if section.title_line is not None:
        side = f" – {job.spec.side_title(section.side)}" if section.side and not _on_page(block) else ""
        title = words.get("title", block.title or block.key)
        over = block.text or section.head_line > section.title_line or _on_page(block)
        write_fixed(
            job, sheet, section.sheet, section.title_line, 0, title + side, "block sentence" if over else "block"
        )
        band(job, sheet, section.sheet, section.title_line, "block")
        page.keep(section.title_line, section.first_line + section.lines - 1)
        for number, text in enumerate(section.notes, start=section.title_line + 1):
            _write_over(job, sheet, section, number, text, "note")
    if block.text:
        for number, key in enumerate(block.text):
            _write_over(job, sheet, section, section.first_line + number, words.get("text", key), "text")
    elif block.heads and block.layout == "down":
        _heads_down(job, sheet, section)
    elif block.heads:
        _heads_across(job, sheet, section)


def _on_page(block: Block) -> bool:
    """Whether a block stands on the page of one side."""
    return len(block.instances.owners) == 1 and block.instances.owners != ("",)


def band(job: Job, sheet: Any, key: str, line: int, role: str) -> None:
    """Styles a line of a sheet, all but its first cell."""
    for column in range(1, len(job.sheet_spec(key).columns)):
        sheet.write_blank(line, column, None, job.styles.get(role))


def _write_over(job: Job, sheet: Any, section: Section, line: int, text: str, role: str) -> None:
    """A text that runs over the empty cells at its right; one longer than the sheet is wide is an error."""
    style = job.styles.values(role)
    if lines_of(text, sum(job.sheet_spec(section.sheet).columns) * 1.1, style) > 1:
        raise SpecError(
            "words",
            f"note or text of {section.block.key}",
            f"is wider than its sheet: {text[:40]}…",
            "Shorten or split it",
        )
    sheet.write_string(line, 0, text, job.styles.get(role))
    job.pages[section.sheet].need(line, height_of(1, style))


def write_fixed(job: Job, sheet: Any, key: str, line: int, column: int, text: str, role: str) -> None:
    """A fixed text that may need several lines in its own column."""
    style = job.styles.values(role)
    lines = 1 if "sentence" in role else lines_of(text, job.pages[key].columns[column], style)
    job.pages[key].need(line, height_of(lines, style), LIST_LINE if role == "list" else LINE)
    sheet.write_string(line, column, text, job.styles.get(role))


def _heads_down(job: Job, sheet: Any, section: Section) -> None:
    if section.title_line is not None:
        band(job, sheet, section.sheet, section.head_line, "head")
    for number, row in enumerate(section.block.rows):
        unit = f" ({job.spec.words.get('unit', row.unit)})" if row.unit else ""
        column = section.column + number
        align = "" if column == 0 else "word_head" if row.is_word else "number_head"
        write_fixed(
            job,
            sheet,
            section.sheet,
            section.head_line,
            column,
            job.label(row) + unit,
            f"head {align} sentence" if "sentence" in row.style else f"head {align}".strip(),
        )


def _heads_across(job: Job, sheet: Any, section: Section) -> None:
    block, words = section.block, job.spec.words
    over = block.head if block.beside else ""
    beside_title = block.beside is not None and job.layout.block_of[block.beside].layout == "across"
    on_title = "block" if section.title_line == section.head_line or beside_title else ""
    for number, instance in enumerate(block.instances.keys):
        bare = block.instances.once or _on_page(block)
        text = "" if bare else job.instance_label(block, instance)
        if over:
            proper = not words.has("label", f"{block.instances.name}_{instance}") and block.instances.per != "sides"
            told = text if proper else text[:1].lower() + text[1:]
            text = words.get("word", over) + (", " + told if text else "")
        if text:
            align = "head word_head" if over and block.rows[0].is_word else "head number_head"
            write_fixed(
                job,
                sheet,
                section.sheet,
                section.head_line,
                section.column + number,
                text,
                f"{on_title} {align}".strip(),
            )
    if block.beside is not None:
        return
    unit_column = 1 + (1 if _on_page(block) else max(len(block.instances.keys), 2))
    for number, row in enumerate(block.rows):
        line, label = section.first_line + number, job.label(row)
        if row.whole:
            continue
        if row.unit and _on_page(block):  # behind an empty value a unit alone would read as one
            label, show_unit = f"{label}, {words.get('unit', row.unit)}", False
        else:
            show_unit = bool(row.unit) and block.show_unit
        if row.link:
            sheet.write_url(
                line, 0, f"internal:'{words.get('sheet', row.link)}'!A1", job.styles.get("link"), string=label
            )
        else:
            write_fixed(job, sheet, section.sheet, line, 0, label, "label")
        if show_unit:
            sheet.write_string(line, unit_column, words.get("unit", row.unit), job.styles.get("unit"))


def write_slot(job: Job, sheet: Any, slot: Slot) -> None:
    """One cell: typed, constant or formula with its stored value."""
    row, place = slot.row, slot.place
    role = row.role(slot.instance)
    style = _style_of(job, slot, role)
    if row.whole:
        for column in range(1, len(job.sheet_spec(place.sheet).columns)):
            sheet.write_blank(place.line, column, None, style)
    if role == "typed":
        write_value(sheet, place.line, place.column, job.typed.get(place), style)
        assert row.input is not None
        add_validation(job, sheet, slot, row.input)
    elif role == "constant":
        write_value(sheet, place.line, place.column, job.constant_value(row, slot.instance), style)
    else:
        value = job.values[place]
        lead_to_cell(job, sheet, slot, style)
        sheet.write_formula(
            place.line, place.column, "=" + job.compiled[place].formula, style, "" if value is None else value
        )


def _style_of(job: Job, slot: Slot, role: str) -> Any:
    """The format of a cell from its row and role.

    A word that can be longer than its column is wrapped in a line high enough."""
    row, place, page = slot.row, slot.place, job.pages[slot.place.sheet]
    own = f"{row.style} {row.styles.get(slot.instance, '')}".strip()
    alike = (slot.block.key, row.key, role)
    if slot.block.instances.long and alike in job.styles_of_lines:
        style, height = job.styles_of_lines[alike]
        page.need(place.line, height)
        return style
    shape = _shape(row, slot)
    roles = [shape, "constant" if role == "constant" else "", own]
    values = job.styles.values(*roles)
    lines = 1
    over = slot.block.pinned or row.whole or slot.block.instances.long or "sentence" in row.style
    if row.is_word and not over:
        texts = wordings(job, row, slot.instance)
        width = page.columns[place.column]
        if any(lines_of(text, width, values) > 1 for text in texts):
            little = all(lines_of(text, width * SHRUNK, values) == 1 for text in texts)
            shrinks = little and slot.block.layout == "across" and "wrapped" not in row.style
            roles.append("shrunk" if shrinks else "wrapped")  # the lines of a table are alike in height
            if not shrinks:
                lines = max(lines_of(text, width - INDENT, values) for text in texts)
    height = height_of(lines, values)
    page.need(place.line, height)
    date = (
        row.part is not None and row.part.name in DATED and row.part.of.type == "date"
    ) or "date" in row.style.split()
    style = job.styles.get(
        *roles, number="" if row.is_word else values.get("num_format") or number_format(row.decimals, date)
    )
    if slot.block.instances.long:
        job.styles_of_lines[alike] = style, height
    return style


def _shape(row: Row, slot: Slot) -> str:
    """Numbers and shown words stand at the right edge of their column, typed words and sentences at the left."""
    if not row.is_word:
        return "number first" if slot.block.layout == "down" and slot.place.column == 0 else "number"
    typed = row.input is not None
    if slot.place.column == 0:
        return "word first"
    return "word" if typed or slot.block.layout == "down" or slot.block.instances.once else "chosen"
