"""What can be checked of a whole workbook spec before anything is laid out."""

from __future__ import annotations

from typing import Any

from builder.engine.spec.charts import Chart
from builder.engine.spec.errors import SpecError, nearest
from builder.engine.spec.model import Block, Row, Sheet
from builder.engine.spec.words import TABLES
from builder.engine.spec.workbook import WorkbookSpec

TAB = "tab_"  # a style of tabs, by what one does on their sheets
FOLDS = ("180-MOD(", "90-MOD(")  # how an angle is folded to half a turn


def check_changes(spec: WorkbookSpec) -> None:
    """Each version has one entry in the change log, the newest first."""
    if spec.changes[0]["version"] != spec.version:
        wrong = f"is {spec.version}, but the newest entry is of {spec.changes[0]['version']}"
        raise SpecError("changes.toml", "version", wrong, "Add an entry for this version at the top, or set `version`")
    versions = [change["version"] for change in spec.changes]
    for version in versions:
        if versions.count(version) > 1:
            raise SpecError("changes.toml", version, "has two entries", "Make one of them, or raise one version")


def check_spec(spec: WorkbookSpec) -> None:
    """Names are unique in their list and no constant; every row has a label; every source and choice has its words."""
    check_changes(spec)
    seen: dict[tuple[str, str], str] = {}
    keys = [block.key for _, block in spec.blocks()]
    for _, block in spec.blocks():
        if keys.count(block.key) > 1:
            raise SpecError(
                block.file, block.key, "is the key of two blocks", "Rename one; <inputs>_state and the like are taken"
            )
        _check_shade(spec, block)
        for row in block.rows:
            place = (block.instances.name, row.key)
            if place in seen or row.key in spec.constants:
                raise SpecError(
                    row.file, row.key, "is named twice", f"The other one is in {seen.get(place, 'constants.toml')}"
                )
            seen[place] = row.file
            _check_words(spec, row)
            _check_axis(row)
            _check_twin(row)
            _check_instances(spec, block, row)
    tabs = [style.removeprefix(TAB) for style in spec.styles if style.startswith(TAB)]
    for sheet in spec.sheets:
        spec.words.get("sheet", sheet.key)
        if sheet.serves not in tabs:
            wrong = f"serves '{sheet.serves}', which no tab's style is for"
            raise SpecError(sheet.file, sheet.key, wrong, nearest(sheet.serves, tabs))
        for chart in sheet.charts:
            _check_chart(spec, sheet, chart, {key for _, key in seen})
    for item in spec.inputs:
        for choice in item.choices:
            spec.words.get("choice", choice)
    for constant in spec.constants.values():
        spec.words.label(constant.key)
        if constant.unit:
            spec.words.get("unit", constant.unit)
        if constant.source:
            _check_source(spec, "constants.toml", constant.key, constant.source)


def _check_words(spec: WorkbookSpec, row: Row) -> None:
    """A row's label, unit, sources, styles and the sheet that it leads to are there."""
    if (not row.label or row.of) and row.kind != "blank":
        spec.words.label(row.label or (row.input.key if row.input else row.key))
    if row.of:
        spec.words.label(f"of_{row.of}")
    if row.unit:
        spec.words.get("unit", row.unit)
    for source in row.source.split():
        _check_source(spec, row.file, row.key, source)
    for role in " ".join((row.style, *row.styles.values())).split():
        if role not in spec.styles:
            raise SpecError(row.file, row.key, f"has the unknown style '{role}'", nearest(role, spec.styles))
    sheets = [sheet.key for sheet in spec.sheets]
    if row.link and row.link not in sheets:
        raise SpecError(row.file, row.key, f"leads to the unknown sheet '{row.link}'", nearest(row.link, sheets))


def _check_axis(row: Row) -> None:
    """What is folded to half a turn is an axis, and says so: two results of it may be the same at its ends."""
    folds = any(fold in formula for formula in (row.formula or "", *row.formulas.values()) for fold in FOLDS)
    if folds and not row.is_axis:
        raise SpecError(row.file, row.key, "folds an angle to half a turn and is no axis", 'Give it kind = "axis"')
    if row.is_axis and row.unit != "degrees":
        raise SpecError(row.file, row.key, f"is an axis in '{row.unit}'", 'Give it unit = "degrees", or another kind')


def _check_twin(row: Row) -> None:
    """What a program reads has a value apart from its formula, so it neither displays only nor is a step."""
    kind = "display" if row.display else "step" if row.step else ""
    if kind and (row.publish or row.input):
        told = "only displays" if row.display else "is a step"
        wrong = f"{told}, and is read by programs as '{row.publish}'" if row.publish else f"{told}, and is typed"
        raise SpecError(row.file, row.key, wrong, f"Leave out `{kind}`, and compute it in the reference; or `publish`")


def _check_source(spec: WorkbookSpec, file: str, key: str, source: str) -> None:
    known = [entry["key"] for entry in spec.sources]
    if source not in known:
        raise SpecError(file, key, f"cites the unknown source '{source}'", nearest(source, known))


def _check_instances(spec: WorkbookSpec, block: Block, row: Row) -> None:
    """Each instance of a row has a formula or a cell, which holds what the row's kind asks for, and no other has."""
    keys = block.instances.keys
    for instance in (*row.formulas, *row.cells, *row.styles):
        if instance not in keys:
            raise SpecError(row.file, row.key, f"speaks of the unknown instance '{instance}'", nearest(instance, keys))
    for instance, value in row.cells.items():
        _check_cell(spec, row, instance, value)
    if not (row.kind == "blank" or row.echo or row.input or row.formula):
        for instance in keys:
            if instance not in row.formulas and instance not in row.cells:
                todo = f"Give it one in `formulas`, or a cell in `cells`; the list is '{block.instances.name}'"
                raise SpecError(row.file, row.key, f"has no formula for '{instance}'", todo)


def _check_cell(spec: WorkbookSpec, row: Row, instance: str, value: Any) -> None:
    """A number, or in a row of words a cited text; `=x` is the key x itself, and either may be empty."""
    if value == "" or row.key in (spec.edition, spec.edition_taken):  # whose cells the builder fills
        return
    if isinstance(value, str) is not row.is_word:
        wanted = 'a text such as "word.x"' if row.is_word else 'a number, or say kind = "word"'
        raise SpecError(row.file, row.key, f"holds {value!r} for '{instance}'", f"Give {wanted}")
    table, dot, key = str(value).partition(".") if row.is_word else ("", "", "")
    if dot and table in TABLES:
        spec.words.get(table, key)
    elif row.is_word and not str(value).startswith("="):
        todo = f"Cite a text as table.key; tables are {', '.join(TABLES)}"
        raise SpecError(row.file, row.key, f"holds {value!r} for '{instance}', which is no cited text", todo)


def _check_shade(spec: WorkbookSpec, block: Block) -> None:
    """The values that shade a block, the lowest of them and the width of a band are there."""
    if not block.shade:
        return
    rows = {row.key for _, other in spec.blocks() for row in other.rows}
    for number, key in enumerate(block.shade):
        there = key in rows or key in spec.constants
        if number == 0:  # the beginning of several rows
            there = any(row.startswith(f"{key}_") for row in rows)
        if not there:
            raise SpecError(block.file, block.key, f"is shaded by the unknown '{key}'", nearest(key, rows))


def _check_chart(spec: WorkbookSpec, sheet: Sheet, chart: Chart, rows: set[str]) -> None:
    """A chart draws rows that are there, beside a block of its sheet, and its texts are there."""
    texts = [chart.title, chart.across_title, chart.up_title, *(series.name for series in chart.series)]
    for text in [text for text in texts if text] + [f"alt_{chart.key}"]:
        spec.words.get("text", text)
    for series in chart.series:
        for key in (series.across, series.up, series.labels):
            if key and key not in rows:
                raise SpecError(sheet.file, chart.key, f"draws the unknown row '{key}'", nearest(key, rows))
    blocks = [block.key for block in sheet.blocks]
    beside = f"{chart.beside}_{sheet.side}" if sheet.side and chart.beside else chart.beside
    if beside and beside not in blocks:
        raise SpecError(sheet.file, chart.key, f"stands beside the unknown block '{beside}'", nearest(beside, blocks))
