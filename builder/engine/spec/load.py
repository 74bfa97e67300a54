"""Reads a workbook's specs, expands inputs, row sets and points, and checks what can be checked before layout."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from builder.engine.spec.blocks import HEAD, Files, head_block, leads, own_lists, sheet_blocks
from builder.engine.spec.check import check_spec
from builder.engine.spec.cited import cited_names
from builder.engine.spec.entries import check_name, read_chart, read_input
from builder.engine.spec.errors import SpecError
from builder.engine.spec.hazards import read_hazards
from builder.engine.spec.inputs import OFFERED, PLAN, offered_block
from builder.engine.spec.kinds import CHOICES
from builder.engine.spec.lines import TABLE
from builder.engine.spec.model import Block, Input, InstanceList, Point, Sheet, WorkbookSpec
from builder.engine.spec.points import confirm_list, point_blocks, read_points
from builder.engine.spec.proofs import proof_block
from builder.engine.spec.reading import SPECS, Constant, demand, read_constants, read_toml
from builder.engine.spec.shapes import (
    CHANGES,
    ROWSETS,
    SHEET,
    SIDES,
    SOURCES,
    STYLE,
    WORKBOOK,
    demand_shape,
    demand_tables,
    list_shape,
)
from builder.engine.spec.sides import Sides, read_sides
from builder.engine.spec.words import ENGLISH, load_words


def _lists(folder: Path, lengths: Mapping[str, int], sides: Sides) -> dict[str, InstanceList]:
    lists = {"plan": PLAN}
    if sides.name:
        lists[sides.name] = InstanceList(sides.name, "sides", sides.keys)
    tables = read_toml(folder / "instances.toml")
    demand_tables("instances.toml", tables, list_shape((sides.one, *sides.keys) if sides.name else ()))
    for name, table in tables.items():
        if name in lists or name == TABLE:
            raise SpecError("instances.toml", name, "is a list that is built in", "Rename it")
        if "keys" not in table:
            demand("instances.toml", name, table, ("prefix", "count"))
        count = lengths.get(name, table.get("count", 0))
        keys = table["keys"] if "keys" in table else [f"{table['prefix']}{n}" for n in range(1, count + 1)]
        twice = [key for key in keys if keys.count(key) > 1]
        if twice or not keys:
            wrong = f"has '{twice[0]}' twice" if twice else "has no instance"
            raise SpecError("instances.toml", name, wrong, "Mend its keys, or its prefix and count")
        per = "side" if table["per"] == sides.one else table["per"]
        owners = ("",) if per == "plan" else sides.keys if per == "side" else (per,)
        apart, long = table.get("apart", False), table.get("long", False)
        lists[name] = InstanceList(name, per, tuple(keys), apart, long, owners)
    return lists


def read_workbook(folder: Path) -> dict[str, Any]:
    """What a workbook says of itself as a whole; the file may be missing. Raises SpecError."""
    path = folder / "workbook.toml"
    table = read_toml(path) if path.exists() else {}
    demand_shape(path.name, "workbook", table, WORKBOOK)
    if "sides" in table:
        demand_shape(path.name, "sides", table["sides"], SIDES)
    return table


def _constants(path: Path) -> dict[str, Constant]:
    constants = {}
    for table in read_constants(path):
        check_name(path.name, table["key"])
        value = table["value"]
        decimals = len(f"{value:.9g}".partition(".")[2]) if abs(value) >= 1e-6 else 9  # shown, never computed with
        constants[table["key"]] = Constant(decimals=decimals, **table)
    return constants


def load_workbook_spec(
    name: str = "plan", language: str = ENGLISH, specs: Path = SPECS, lengths: Mapping[str, int] | None = None
) -> WorkbookSpec:
    """The checked spec of one workbook; `lengths`: other lengths of its long lists.

    Raises SpecError with file and key at the first mistake.
    """
    folder = specs / name
    words = load_words(name, language, specs)
    choices = read_toml(folder / "choices.toml")
    demand_tables("choices.toml", choices, CHOICES)
    about = read_workbook(folder)
    sides = read_sides(about.get("sides", {}))
    lists = _lists(folder, lengths or {}, sides)
    constants = _constants(specs / "clinical" / "constants.toml")
    sheets: list[Sheet] = []
    points: tuple[Point, ...] = ()
    inputs: list[Input] = []
    kept: list[Block] = []
    pending: Files = []
    files = sorted(path for path in folder.glob("[0-9]*.toml"))
    for path in (*folder.glob("rowsets.toml"), *files):
        table = read_toml(path)
        pending.append((path, table))
        demand_shape(path.name, "sheet" if path in files else "row sets", table, SHEET if path in files else ROWSETS)
        for entry in table.get("block", []):
            for item in entry.get("inputs", []):
                inputs.append(read_input(path.name, entry["key"], item, choices))
    for _, table in pending:
        if "point" in table and sides.name:
            confirmed = confirm_list(table, sides)
            lists[confirmed.name] = confirmed
    for path, table in pending[-len(files) :]:
        for side in sides.keys if table.get("per_side") else ("",):
            key = "_".join(part for part in (table["key"], side) if part)
            blocks = [head_block(path.name, key, ("page_line",) if side else tuple(HEAD))]
            for entry in table.get("block", []):
                on_sheet, elsewhere = sheet_blocks(path.name, entry, side, lists, inputs, pending)
                blocks += on_sheet
                kept += elsewhere
            if {"point", "plan_point"} & set(table):
                points = read_points(path.name, table, inputs, own_lists(pending, lists), leads(pending), sides)
                made, point_lists = point_blocks(path.name, points, sides)
                lists.update(point_lists)
                blocks += made
            if "check" in table:
                proof, checks = proof_block(path.name, table["check"])
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
    constants = {key: constant for key, constant in constants.items() if key in cited}
    edition, sources = read_toml(folder / "changes.toml"), read_toml(specs / "clinical" / "sources.toml")
    styles = read_toml(specs / "styles.toml")
    demand_shape("changes.toml", "changes", edition, CHANGES)
    demand_shape("sources.toml", "sources", sources, SOURCES)
    demand_tables("styles.toml", styles, STYLE)
    spec = WorkbookSpec(
        name=name,
        sheets=tuple(sheets),
        lists=lists,
        constants=constants,
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
    )
    check_spec(spec)
    return spec
