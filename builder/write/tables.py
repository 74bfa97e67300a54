"""The sheets made from the model itself: constants with sources, the formula list, the changes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from xlsxwriter.utility import xl_range

from builder.layout import CONSTANT_COLUMN, FIRST_LINE
from builder.spec.model import EYES
from builder.write.job import Job
from builder.write.sheet import band, write_fixed
from builder.write.styles import number_format

LIST_HEADS = (
    "list_sheet",
    "list_cells",
    "list_name",
    "list_key",
    "list_instances",
    "list_label",
    "list_unit",
    "list_role",
    "list_in_names",
    "list_in_cells",
    "list_source",
)


def write_constants(job: Job, sheet: Any) -> None:
    """Value, unit, mark and source of every constant, then the sources."""
    words, styles = job.spec.words, job.styles
    heads = [
        words.get("word", key)
        for key in ("list_label", "list_value", "list_unit", "list_mark", "list_source", "list_name")
    ]
    _heads(job, sheet, "constants", words.get("title", "constants"), heads)
    for constant in job.spec.constants.values():
        line = job.constants[constant.key].line
        number = number_format(constant.decimals) if constant.decimals < 9 else "0.0E+00"
        sheet.write_number(line, CONSTANT_COLUMN, constant.value, styles.get("number", "constant", number=number))
        texts = (
            words.label(constant.key),
            "",
            words.get("unit", constant.unit) if constant.unit else "",
            words.get("word", f"mark_{constant.mark}"),
            constant.source,
            constant.key,
        )
        _line(job, sheet, "constants", line, texts, ("label", "", "unit", "small", "small", "small"))
    line = FIRST_LINE + 3 + len(job.spec.constants)
    sheet.write_string(line, 0, words.get("title", "sources"), styles.get("block"))
    band(job, sheet, "constants", line, "block")
    job.pages["constants"].keep(line, line + len(job.spec.sources))
    for source in job.spec.sources:
        line += 1
        sheet.write_string(line, 0, f"{source['key']}: {source['citation']} ({source['state']})", styles.get("small"))


def _heads(job: Job, sheet: Any, key: str, title: str, heads: Sequence[str]) -> None:
    """The title and the heads of a table over a whole sheet: frozen, and repeated on every printed page."""
    page, line = job.pages[key], FIRST_LINE
    if title:
        sheet.write_string(line, 0, title, job.styles.get("block"))
        band(job, sheet, key, line, "block")
        line += 1
    for column, head in enumerate(heads):
        number = " number_head" if key == "constants" and column == CONSTANT_COLUMN else ""
        write_fixed(job, sheet, key, line, column, head, "list_head" + number)
    sheet.freeze_panes(line + 1, 1)
    page.repeated = line + 1
    sheet.repeat_rows(0, line)


def _line(job: Job, sheet: Any, key: str, line: int, texts: Sequence[str], roles: Sequence[str]) -> None:
    """One line of such a table, as high as its longest text needs."""
    for column, (text, role) in enumerate(zip(texts, roles, strict=True)):
        if text:
            write_fixed(job, sheet, key, line, column, text, role)
    job.pages[key].keep(line, line)


def formula_list(job: Job) -> list[tuple[str, ...]]:
    """One line a row of a block: where it stands, its names,
    its formula in names and in the cells of its first instance."""
    lines: list[tuple[str, ...]] = []
    for sheet, block in job.spec.blocks():
        for row in block.rows:
            if row.kind == "blank" or block.text:
                continue
            slots = list(job.layout.cells(block.instances.name, row.key).values())
            groups = [[s for s in slots if s.eye == eye] for eye in EYES] if block.instances.per == "eye" else [slots]
            cells = " ".join(
                xl_range(g[0].place.line, g[0].place.column, g[-1].place.line, g[-1].place.column) for g in groups
            )
            first = next((s for s in slots if row.role(s.instance) == "formula"), slots[0])
            role = row.role(first.instance)
            written = "=" + job.compiled[first.place].formula if role == "formula" else ""
            in_names = row.echo or (row.formula_of(first.instance) if role == "formula" else "")
            lines.append(
                (
                    job.spec.words.get("sheet", sheet.key),
                    cells,
                    row.key,
                    row.publish,
                    f"{block.instances.name}: {' '.join(block.instances.keys)}"
                    if len(block.instances.keys) < 20
                    else block.instances.name,
                    job.label(row),
                    row.unit,
                    role,
                    in_names,
                    written,
                    row.source,
                )
            )
    return lines


def write_formula_list(job: Job, sheet: Any) -> None:
    """The list by which an auditor reads and a program finds every cell."""
    _heads(job, sheet, "formula_list", "", [job.spec.words.get("word", key) for key in LIST_HEADS])
    for number, texts in enumerate(formula_list(job), start=FIRST_LINE + 1):
        _line(job, sheet, "formula_list", number, texts, ["list"] * len(texts))


def write_changes(job: Job, sheet: Any) -> None:
    """What each edition changed, and whether results changed."""
    words = job.spec.words
    keys = ("version", "results_change", "text")
    _heads(job, sheet, "changes", words.get("title", "changes"), [words.get("word", f"list_{key}") for key in keys])
    for number, change in enumerate(job.spec.changes, start=FIRST_LINE + 2):
        shown = {**change, "results_change": words.get("choice", "yes" if change["results_change"] else "no")}
        _line(job, sheet, "changes", number, [shown[key] for key in keys], ["list"] * len(keys))


GENERATED = {"constants": write_constants, "list": write_formula_list, "changes": write_changes}
