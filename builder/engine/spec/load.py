"""Reads a workbook's specs, expands inputs, row sets and points, and checks what can be checked before layout."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from builder.engine.spec.blocks import Files, head_blocks, leads, own_lists, sheet_blocks
from builder.engine.spec.check import check_spec
from builder.engine.spec.cited import cited_names
from builder.engine.spec.codes import check_codes
from builder.engine.spec.entries import check_name, read_chart, read_input
from builder.engine.spec.hazards import read_hazards
from builder.engine.spec.inputs import OFFERED, offered_block
from builder.engine.spec.kinds import CHOICES
from builder.engine.spec.lines import TABLE
from builder.engine.spec.lists import OF_SIDE, ONCE, of_whole, read_about, read_lists, read_sides
from builder.engine.spec.model import Block, Input, Point, Sheet
from builder.engine.spec.patterns import read_patterns, spelt_out_in
from builder.engine.spec.points import confirm_list, point_blocks, read_points
from builder.engine.spec.proofs import proof_block
from builder.engine.spec.reading import SPECS, Constant, read_constants, read_toml
from builder.engine.spec.shapes import (
    CHANGES,
    ROWSETS,
    SOURCES,
    STYLE,
    demand_shape,
    demand_tables,
    sheet_shape,
)
from builder.engine.spec.words import ENGLISH, load_words
from builder.engine.spec.workbook import WorkbookSpec

TOLD = ("reference", "takes_from", "compared", "codes", "edition", "edition_taken", "slack")  # by workbook.toml


def _constants(path: Path) -> dict[str, Constant]:
    constants = {}
    for table in read_constants(path):
        check_name(path.name, table["key"])
        value = table["value"]
        decimals = len(f"{value:.9g}".partition(".")[2]) if abs(value) >= 1e-6 else 9  # shown, never computed with
        constants[table["key"]] = Constant(decimals=decimals, **table)
    return constants


def load_workbook_spec(
    name: str, language: str = ENGLISH, specs: Path = SPECS, lines: int | None = None
) -> WorkbookSpec:
    """The checked spec of one workbook; `lines`: another length of its long lists.

    Raises SpecError with file and key at the first mistake.
    """
    folder = specs / name
    words = load_words(name, language, specs)
    choices = read_toml(folder / "choices.toml")
    demand_tables("choices.toml", choices, CHOICES)
    about = read_about(folder)
    sides, head = read_sides(about.get("sides", {})), about.get("head", {})
    once = about.get("once", ONCE)
    lists, slack = read_lists(folder, lines, sides, once), about.get("slack", "")
    constants = _constants(specs / about["constants"]) if "constants" in about else {}
    patterns = read_patterns(specs / about["patterns"]) if "patterns" in about else {}
    sheets: list[Sheet] = []
    sheet = sheet_shape(of_whole(once))
    points: tuple[Point, ...] = ()
    inputs: list[Input] = []
    kept: list[Block] = []
    pending: Files = []
    files = sorted(path for path in folder.glob("[0-9]*.toml"))
    for path in (*folder.glob("rowsets.toml"), *files):
        table = spelt_out_in(path.name, read_toml(path), patterns)
        pending.append((path, table))
        demand_shape(path.name, "sheet" if path in files else "row sets", table, sheet if path in files else ROWSETS)
        for entry in table.get("block", []):
            for item in entry.get("inputs", []):
                inputs.append(read_input(path.name, entry["key"], item, choices, constants))
    for _, table in pending:
        if OF_SIDE in table and sides.name:
            confirmed = confirm_list(table, sides)
            lists[confirmed.name] = confirmed
    for path, table in pending[-len(files) :]:
        for side in sides.keys if table.get("per_side") else ("",):
            key = "_".join(part for part in (table["key"], side) if part)
            blocks = head_blocks(path.name, key, {"file": head["file"]} if side and head else head, lists[once])
            for entry in table.get("block", []):
                on_sheet, elsewhere = sheet_blocks(path.name, entry, side, lists, inputs, pending, slack)
                blocks += on_sheet
                kept += elsewhere
            if {OF_SIDE, of_whole(once)} & set(table):
                points = read_points(path.name, table, inputs, own_lists(pending, lists), leads(pending), sides, once)
                made, point_lists = point_blocks(path.name, points, sides, once)
                lists.update(point_lists)
                blocks += made
            if "check" in table:
                proof, checks = proof_block(path.name, table["check"], slack)
                lists[checks.name] = checks
                blocks.insert(2, proof)  # below the frozen lines and the verdict
            sheets.append(
                Sheet(
                    key=key,
                    file=path.name,
                    columns=tuple(table["columns"]),
                    serves=table["serves"],
                    landscape=table.get("landscape", False),
                    blocks=tuple(blocks),
                    generated=table.get("generated", ""),
                    charts=tuple(read_chart(entry) for entry in table.get("chart", [])),
                    side=side,
                    one_page=table.get("one_page", False),
                    across=table.get("across", 1),
                    frozen=tuple(table["frozen"]) if "frozen" in table else None,
                )
            )
    if choices:
        block, lists[OFFERED] = offered_block(choices, inputs)
        kept.append(block)
    tables = tuple(block for block in kept if block.instances.name == TABLE)
    generated = {"used": tuple(block for block in kept if block not in tables), "columns": tables}
    sheets = [replace(s, blocks=generated.get(s.generated, ()) + s.blocks) for s in sheets]
    cited = cited_names((block for sheet in sheets for block in sheet.blocks), inputs)
    figures = {key: constant.value for key, constant in constants.items()}
    constants = {key: constant for key, constant in constants.items() if key in cited}
    edition = read_toml(folder / "changes.toml")
    sources = read_toml(specs / about["sources"]) if "sources" in about else {"source": []}
    styles = read_toml(specs / "styles.toml")
    demand_shape("changes.toml", "changes", edition, CHANGES)
    if sources["source"]:
        demand_shape("sources.toml", "sources", sources, SOURCES)
    demand_tables("styles.toml", styles, STYLE)
    spec = WorkbookSpec(
        name=name,
        sheets=tuple(sheets),
        lists=lists,
        constants=constants,
        figures=figures,
        sources=tuple(sources["source"]),
        changes=tuple(edition["change"]),
        words=words,
        inputs=tuple(inputs),
        version=edition["version"],
        styles=styles,
        points=points,
        hazards=read_hazards(specs, points) if any(sheet.generated == "hazards" for sheet in sheets) else (),
        language=language,
        sides=sides,
        once=once,
        home=specs,
        constants_file=about.get("constants", ""),
        **{name: about.get(name, "") for name in TOLD},
        retired_codes=tuple(about.get("retired_codes", ())),
    )
    check_spec(spec)
    check_codes(spec)
    return spec
