"""Makes the blocks of a sheet from its entries: rows, row sets and inputs, and the frozen lines above them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from builder.engine.spec.entries import read_row, read_row_of_each
from builder.engine.spec.errors import SpecError, nearest
from builder.engine.spec.inputs import input_blocks
from builder.engine.spec.lines import TABLE, line_blocks
from builder.engine.spec.lists import InstanceList
from builder.engine.spec.model import Block, Input, Row
from builder.engine.spec.reading import demand

HEAD = {"file": "title", "state": "", "next": "next"}  # the frozen lines with their styles
Files = list[tuple[Path, dict[str, Any]]]  # the spec files of a workbook, as read


def sheet_blocks(
    file: str,
    entry: dict[str, Any],
    side: str,
    lists: dict[str, InstanceList],
    inputs: list[Input],
    pending: Files,
    slack: str,
) -> tuple[list[Block], list[Block]]:
    """One entry of a sheet as blocks: those of the sheet, and those that its inputs leave on the sheet of used values.

    On a sheet that exists once for each side, `page` stands for a list `page_SIDE`, a block's key ends in the side, and
    {side} in a style is the side. `slack`: the constant by which a number may be beyond its limits.
    """
    ending = f"_{side}" if side else ""
    name = entry["instances"] + (ending if entry["instances"] not in lists else "")
    if name not in lists:
        raise SpecError(file, entry["key"], f"names the unknown list '{name}'", nearest(name, lists))
    block = Block(
        key=entry["key"] + ending,
        file=file,
        instances=lists[name],
        layout=entry.get("layout", "across"),
        beside=entry["beside"] + ending if "beside" in entry else None,
        at=entry.get("at", 0),
        lower=entry.get("lower", 0),
        room=entry.get("room", 0),
        heads=entry.get("heads", True),
        text=tuple(entry.get("text", ())),
        titled=entry.get("titled", "beside" not in entry),
        shade=tuple(entry.get("shade", ())),
        title=entry["key"] if ending else "",
        head=entry.get("head", ""),
    )
    if "inputs" in entry and block.layout == "down" and not entry.get("compact") and not entry.get("rows"):
        raise SpecError(file, block.key, "is laid down and has no row that leads its lines", "Give it one in `rows`")
    rows: list[Row] = []
    for item in entry.get("rows", []):
        if "use" in item:
            rowset = next((s for _, t in pending for s in t.get("rowset", []) if s["key"] == item["use"]), None)
            if rowset is None:
                raise SpecError(file, block.key, f"uses the unknown row set '{item['use']}'", "Name a [[rowset]]")
            publish = item.get("publish", {})
            for each in item.get("each", ("",)):
                made = (read_row_of_each(file, r, each, block.instances.keys) for r in rowset["rows"])
                rows += [
                    replace(row, publish=publish.get(row.key, ""), step=row.step and row.key not in publish)
                    for row in made
                ]
            known = [row.key for row in rows]
            for key in publish:
                if key not in known:
                    raise SpecError(file, item["use"], f"publishes the unknown row '{key}'", nearest(key, known))
        elif item.get("typed_count"):
            rows += _typed_counts(file, item["key"], lists, pending)
        else:
            rows.append(read_row(file, item, block.instances.keys))
    if entry.get("display"):
        rows = [replace(row, display=True) for row in rows]
    if entry.get("steps"):
        rows = [replace(row, step=True) for row in rows]
    if side:
        keys = block.instances.keys
        rows = [
            replace(
                row,
                cells={key: value for key, value in row.cells.items() if key in keys},
                style=row.style.replace("{side}", side),
            )
            for row in rows
        ]
    block = replace(block, rows=tuple(rows))
    if "inputs" not in entry:
        return [block], []
    own = tuple(item for item in inputs if item.block == block.key)
    if entry.get("compact"):
        demand(file, block.key, entry, ("filled",))
        typed, used, aside, columns = line_blocks(block, own, entry["filled"])
        lists[TABLE] = columns.instances
        return [typed], [used, aside, columns]
    once = next(item for item in lists.values() if item.once)
    return input_blocks(block, own, entry.get("states") == "below", slack, once)


def head_blocks(file: str, sheet: str, head: Mapping[str, str], once: InstanceList) -> list[Block]:
    """The frozen lines of a sheet, by what each is for: file and edition, state, what to type next; none without."""
    rows = tuple(
        Row(f"{sheet}_{head[name]}", file, "word", echo=head[name], style=style, label=head[name], display=True)
        for name, style in HEAD.items()
        if name in head
    )
    whole: dict[str, Any] = {"file": file, "instances": once, "titled": False, "pinned": True}
    return [Block(key=f"{sheet}_head", rows=rows, **whole)] if rows else []


def own_lists(pending: Files, lists: dict[str, InstanceList]) -> dict[str, InstanceList]:
    """The list over which each group of inputs is typed, by block key."""
    return {e["key"]: lists[e["instances"]] for _, t in pending for e in t.get("block", []) if "inputs" in e}


def leads(pending: Files) -> dict[str, str]:
    """The row that leads the lines of a group of inputs that is typed as a list."""
    return {
        e["key"]: e["rows"][0]["key"] for _, t in pending for e in t.get("block", []) if "inputs" in e and e.get("rows")
    }


def _typed_counts(file: str, key: str, lists: dict[str, InstanceList], pending: Files) -> list[Row]:
    """How many cells of a side are typed, those in use and those refused: on each sheet, and on all."""
    rows = []
    for _, table in pending:
        places = [
            f"rows.{entry['key']}" if lists[entry["instances"]].per == "sides" else f"block.{entry['key']}"
            for entry in table.get("block", [])
            if "inputs" in entry and (lists[entry["instances"]].per == "sides" or entry.get("layout") == "down")
        ]
        if places:
            used = "+".join(f"COUNTIF({place}_state,word.used)" for place in places)
            refused = ",".join(f"{place}_refused" for place in places)
            for name, formula in ((key, used), (f"refused_{key}", f"SUM({refused})")):
                rows.append(Row(f"{name}_{table['key']}", file, decimals=0, formula=formula, guarded=False, step=True))
    return [*rows, Row(key, file, decimals=0, formula=f"SUM({','.join(row.key for row in rows)})", guarded=False)]
