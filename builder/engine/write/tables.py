"""The sheets made from the model itself: constants with sources, the formula list, the changes."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from builder.engine.addresses import area
from builder.engine.layout import CONSTANT_COLUMN, FIRST_LINE, Slot
from builder.engine.spec.errors import SpecError
from builder.engine.spec.hazard import Hazard
from builder.engine.spec.hazards import controls, controls_said
from builder.engine.spec.model import Row
from builder.engine.write.job import Job
from builder.engine.write.page import frozen_columns
from builder.engine.write.sheet import band, write_fixed
from builder.engine.write.styles import number_format

HAZARD_HEADS = ("name", "sequence", "harm", "severity", "controls", "left", "keys")
LINE_EACH = "\n"  # long names, which a program breaks anywhere
MANY = 20  # instances, from which on they are not all named
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
    if len(heads) > len(page.columns):
        raise SpecError(job.sheet_spec(key).file, key, f"has less than {len(heads)} columns", "Add widths to columns")
    if title:
        sheet.write_string(line, 0, title, job.styles.get("block sentence"))
        band(job, sheet, key, line, "block")
        line += 1
    for column, head in enumerate(heads):
        number = " number_head" if key == "constants" and column == CONSTANT_COLUMN else ""
        write_fixed(job, sheet, key, line, column, head, "list_head" + number)
    sheet.freeze_panes(line + 1, frozen_columns(page.columns))
    page.repeated = line + 1
    sheet.repeat_rows(0, line)


def _line(job: Job, sheet: Any, key: str, line: int, texts: Sequence[str], roles: Sequence[str]) -> None:
    """One line of such a table, as high as its longest text needs."""
    for column, (text, role) in enumerate(zip(texts, roles, strict=True)):
        if text:
            write_fixed(job, sheet, key, line, column, text, role)
    job.pages[key].keep(line, line)


def formula_list(job: Job) -> list[tuple[str, ...]]:
    """One line a row of a block: where it stands, its names, its formula in names and in cells.

    The cells are those of the first instance that has a formula; below it a line for each stretch of
    instances whose formula is another."""
    lines: list[tuple[str, ...]] = []
    for sheet, block in job.spec.blocks():
        owner = block.instances
        for row in block.rows:
            if row.kind == "blank" or block.text:
                continue
            slots = list(job.layout.cells(owner.name, row.key).values())
            for number, keys in enumerate((owner.keys, *_otherwise(row, owner.keys))):
                among = set(keys)
                mine = [s for s in slots if s.instance in among]
                told = f": {_keys_told(keys)}" if number or len(keys) < MANY else ""
                lines.append(
                    (
                        job.spec.sheet_title(sheet.key),
                        _areas(mine, owner.owners),
                        row.key,
                        "" if number else row.publish,
                        owner.name + told,
                        job.label(row),
                        row.unit,
                        *_written(job, next((s for s in mine if _computed(row, s.instance)), mine[0])),
                        row.source,
                    )
                )
    return lines


def _keys_told(keys: Sequence[str]) -> str:
    """The instances by name; of a long stretch the first and the last, so that no row grows out of the format."""
    return " ".join(keys) if len(keys) < MANY else f"{keys[0]} … {keys[-1]}"


def _computed(row: Row, instance: str) -> bool:
    """Whether an instance has a formula of the specs: no typed cell, no constant, no cell left empty."""
    return row.role(instance) == "formula" and instance not in row.cells


def _otherwise(row: Row, instances: Sequence[str]) -> list[tuple[str, ...]]:
    """The stretches of instances whose formula is not that of the first instance that has one."""
    if not row.formulas:
        return []
    said = {key: row.formulas.get(key, row.formula) for key in instances if _computed(row, key)}
    first = next(iter(said.values()), None)
    stretches = [(formula, tuple(keys)) for formula, keys in groupby(instances, said.get)]
    return [keys for formula, keys in stretches if formula not in (None, first)]


def _areas(slots: Sequence[Slot], sides: Sequence[str]) -> str:
    """The cells, side by side where each side has a list of its own."""
    groups = [[s for s in slots if s.side == side] for side in sides] if len(sides) > 1 else [slots]
    ends = [(group[0].place, group[-1].place) for group in groups]
    return " ".join(area(first.column + 1, first.line + 1, last.column + 1, last.line + 1) for first, last in ends)


def _written(job: Job, slot: Slot) -> tuple[str, str, str]:
    """What a cell is, and its formula in names and in cells."""
    role = slot.row.role(slot.instance)
    formula = role == "formula"
    in_names = slot.row.echo or (slot.row.formula_of(slot.instance) if formula else "")
    return role, in_names, "=" + job.compiled[slot.place].formula if formula else ""


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


def write_hazards(job: Job, sheet: Any) -> None:
    """The risk file, group by group, and below it how to read it."""
    words, line = job.spec.words, FIRST_LINE + 1
    heads = [words.get("word", f"hazard_{key}") for key in HAZARD_HEADS]
    _heads(job, sheet, "hazards", words.get("title", "hazards"), heads)
    for group in dict.fromkeys(hazard.group for hazard in job.spec.hazards):
        line += 1
        sheet.write_string(line, 0, words.get("word", f"group_{group}"), job.styles.get("block sentence"))
        band(job, sheet, "hazards", line, "block")
        job.pages["hazards"].keep(line, line + 1)
        for hazard in sorted((h for h in job.spec.hazards if h.group == group), key=lambda h: h.number):
            line += 1
            _line(job, sheet, "hazards", line, _hazard_texts(job, hazard), ["risk"] * len(heads))
    line += 1
    for note in words.notes("hazards"):
        line += 1
        sheet.write_string(line, 0, note, job.styles.get("note"))
        job.pages["hazards"].keep(line, line)


def _hazard_texts(job: Job, hazard: Hazard) -> tuple[str, ...]:
    """Number and hazard, sequence of events, harm, severity, controls in words, who bears the rest, keys and tests."""
    words, named = job.spec.words, controls(hazard, job.spec.points)
    bearer = words.get("word", f"bearer_{hazard.left_to}") if hazard.left_to else ""
    said = [words.get("word", kind) + LINE_EACH.join(texts) for kind, texts in controls_said(job.spec, named)]
    return (
        f"{hazard.number}. {words.get('hazard', hazard.key)}",
        words.get("sequence", hazard.key),
        words.get("harm", hazard.harm),
        words.get("severity", hazard.severity),
        LINE_EACH.join(said),
        bearer + words.get("residual", hazard.key) if bearer else "",
        LINE_EACH.join(key for _, keys in named for key in keys),
    )


GENERATED = {
    "constants": write_constants,
    "list": write_formula_list,
    "changes": write_changes,
    "hazards": write_hazards,
}
