"""The sheets made from the model itself: constants with sources, the formula list, the changes."""

from __future__ import annotations

from typing import Any

from xlsxwriter.utility import xl_range

from builder.layout import FIRST_LINE, Place
from builder.spec import WorkbookSpec
from builder.spec.model import EYES
from builder.write.job import Job
from builder.write.styles import number_format

CONSTANT_COLUMN = 1
LIST_HEADS = ("list_sheet", "list_cells", "list_name", "list_key", "list_instances", "list_label", "list_unit", "list_role",
              "list_in_names", "list_in_cells", "list_source")


def place_constants(spec: WorkbookSpec) -> dict[str, Place]:
    """The cell of every constant, on the sheet of constants."""
    sheet = next(sheet.key for sheet in spec.sheets if sheet.generated == "constants")
    return {key: Place(sheet, FIRST_LINE + 2 + n, CONSTANT_COLUMN) for n, key in enumerate(spec.constants)}


def write_constants(job: Job, sheet: Any) -> None:
    """Value, unit, mark and source of every constant, then the sources."""
    words, styles = job.spec.words, job.styles
    sheet.write_string(FIRST_LINE, 0, words.get("title", "constants"), styles.get("block"))
    for column, key in enumerate(("list_label", "list_value", "list_unit", "list_mark", "list_source", "list_name")):
        sheet.write_string(FIRST_LINE + 1, column, words.get("word", key), styles.get("head"))
    for constant in job.spec.constants.values():
        place = job.constants[constant.key]
        line = place.line
        sheet.write_string(line, 0, words.label(constant.key), styles.get("label"))
        number = number_format(constant.decimals) if constant.decimals < 9 else "0.0E+00"
        sheet.write_number(line, 1, constant.value, styles.get("plain", "number", "constant", number=number))
        if constant.unit:
            sheet.write_string(line, 2, words.get("unit", constant.unit), styles.get("unit"))
        sheet.write_string(line, 3, words.get("word", f"mark_{constant.mark}"), styles.get("list"))
        sheet.write_string(line, 4, constant.source, styles.get("list"))
        sheet.write_string(line, 5, constant.key, styles.get("list"))
    line = FIRST_LINE + 3 + len(job.spec.constants)
    sheet.write_string(line, 0, words.get("title", "sources"), styles.get("block"))
    for source in job.spec.sources:
        line += 1
        sheet.write_string(line, 0, source["key"], styles.get("list"))
        sheet.write_string(line, 1, f"{source['citation']} ({source['state']})", styles.get("list"))


def formula_list(job: Job) -> list[tuple[str, ...]]:
    """One line a row of a block: where it stands, its names, its formula in names and in the cells of its first instance."""
    lines = []
    for sheet, block in job.spec.blocks():
        for row in block.rows:
            if row.kind == "blank" or block.text:
                continue
            slots = list(job.layout.cells(block.instances.name, row.key).values())
            groups = [[s for s in slots if s.eye == eye] for eye in EYES] if block.instances.per == "eye" else [slots]
            cells = " ".join(xl_range(g[0].place.line, g[0].place.column, g[-1].place.line, g[-1].place.column) for g in groups)
            first = next((s for s in slots if row.role(s.instance) == "formula"), slots[0])
            role = row.role(first.instance)
            written = "=" + job.compiled[first.place].formula if role == "formula" else ""
            in_names = row.echo or (row.formula_of(first.instance) if role == "formula" else "")
            lines.append((job.spec.words.get("sheet", sheet.key), cells, row.key, row.publish,
                          f"{block.instances.name}: {' '.join(block.instances.keys)}" if len(block.instances.keys) < 20 else
                          block.instances.name, job.label(row), row.unit, role, in_names, written, row.source))
    return lines


def write_formula_list(job: Job, sheet: Any) -> None:
    """The list by which an auditor reads and a program finds every cell."""
    words, styles = job.spec.words, job.styles
    for column, key in enumerate(LIST_HEADS):
        sheet.write_string(FIRST_LINE, column, words.get("word", key), styles.get("list_head"))
    for number, line in enumerate(formula_list(job), start=FIRST_LINE + 1):
        for column, text in enumerate(line):
            if text:
                sheet.write_string(number, column, text, styles.get("list"))


def write_changes(job: Job, sheet: Any) -> None:
    """What each edition changed, and whether results changed."""
    words, styles = job.spec.words, job.styles
    sheet.write_string(FIRST_LINE, 0, words.get("title", "changes"), styles.get("block"))
    for column, key in enumerate(("list_version", "list_results_change", "list_text")):
        sheet.write_string(FIRST_LINE + 1, column, words.get("word", key), styles.get("head"))
    for number, change in enumerate(job.spec.changes, start=FIRST_LINE + 2):
        for column, key in enumerate(("version", "results_change", "text")):
            sheet.write_string(number, column, str(change[key]), styles.get("text"))


GENERATED = {"constants": write_constants, "list": write_formula_list, "changes": write_changes}
