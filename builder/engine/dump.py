"""The readable dump of a workbook: one line a cell, a text or a look, so that a reviewer sees a change as a small diff.

Its hash is in the edition, so it says all that decides what a blank workbook holds, shows and prints: the looks are the
entries of the specs other than formulas, and the writer's own code as one hash.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import Any

from builder.engine.formula.compiled import Compiled
from builder.engine.layout import Layout, Place, Slot
from builder.engine.spec import WorkbookSpec

HERE = Path(__file__).resolve().parent
ELSEWHERE = {  # of an entry: its name, its file, what stands in the lines of cells, who computes it, and its parts
    *("key", "file", "formula", "formulas", "cells", "needs", "any_of", "echo", "decision", "guarded", "judges"),
    *("display", "step", "part"),
    *("live", "conflict", "input", "instances", "blocks", "rows", "charts", "series"),
}


def name_of(slot: Slot) -> str:
    """The name of a cell over the whole workbook: side, instance and row, as in left.haigis.goal_power."""
    return ".".join(
        part for part in (slot.side, slot.instance if slot.instance != slot.side else "", slot.row.key) if part
    )


def dump_lines(
    spec: WorkbookSpec,
    layout: Layout,
    constants: Mapping[str, Place],
    compiled: Mapping[Place, Compiled],
    taken: str = "",
) -> Iterator[str]:
    """Cell, key, role, what it holds, style, lock and limits; the edition, which comes from these lines, is left out.

    `taken`: the edition of the workbook whose lines this one takes, which it shows.
    """
    for constant in spec.constants.values():
        place = constants[constant.key]
        holds = f"{constant.value!r} {constant.unit}"
        yield f"{spec.sheet_title(place.sheet)}!{place.address} | {constant.key} | constant | {holds} | locked"
    for slot in layout.slots:
        row, place = slot.row, slot.place
        role = row.role(slot.instance)
        if not is_dumped(slot):
            continue
        name = name_of(slot)
        if role == "formula":
            holds = "=" + compiled[place].formula
        elif role == "constant":
            holds = repr(row.cells[slot.instance])
        else:
            item = row.input
            assert item is not None
            holds = f"{item.type} from {item.lowest} to {item.highest}" + (
                f" of {', '.join(item.choices)}" if item.choices else ""
            )
        lock = "unlocked" if role == "typed" else "locked"
        cells = place.address
        if slot.block.instances.long and role != "constant" and slot.instance not in row.formulas:
            last = layout.cells(slot.block.instances.name, row.key)[slot.side, slot.block.instances.keys[-1]]
            cells += f" to {last.place.address}"
        yield f"{spec.sheet_title(place.sheet)}!{cells} | {name} | {role} | {holds} | {row.style or 'plain'} | {lock}"
    for table, texts in spec.words.tables.items():
        for key, text in texts.items():
            yield f"words | {table}.{key} | {text}"
    yield from look_lines(spec)
    if taken:
        yield f"look | {spec.takes_from} | {taken}"


def is_dumped(slot: Slot) -> bool:
    """Whether a cell has a line of its own: the lines of a long list are copies of the first one of their formula."""
    row, keys = slot.row, slot.block.instances.keys
    if not slot.block.instances.long or row.role(slot.instance) == "constant":
        return True
    return slot.instance in (keys[0], *row.formulas) or (keys[0] in row.formulas and slot.instance in keys[1:2])


def look_lines(spec: WorkbookSpec) -> Iterator[str]:
    """What a person sees and prints beside the cells' contents: each entry with what it says other than the default."""
    for kind, key, says in _looks(spec):
        if says:
            yield f"look | {kind}.{key} | {json.dumps(says, ensure_ascii=False, default=list)}"


def _looks(spec: WorkbookSpec) -> Iterator[tuple[str, str, Mapping[str, Any]]]:
    for role, look in spec.styles.items():
        yield "style", role, look
    for sheet in spec.sheets:
        yield "sheet", sheet.key, _told(sheet)
        for chart in sheet.charts:
            series = [_told(part) for part in chart.series]
            yield "chart", f"{sheet.key}.{chart.key}", {**_told(chart), "series": series}
        for block in sheet.blocks:
            yield "block", block.key, {"list": block.instances.name, **_told(block)}
            for row in block.rows:
                if row.input is not None:
                    yield "input", row.input.key, _told(row.input)
                yield "row", f"{block.key}.{row.key}", _told(row)
    for point in spec.points:
        yield "point", point.key, _told(point)
    for constant in spec.constants.values():
        yield "constant", constant.key, {"mark": constant.mark, "source": constant.source}
    for source in spec.sources:
        yield "source", source["key"], source
    for hazard in spec.hazards:
        yield "hazard", hazard.key, {"key": hazard.key, **_told(hazard)}
    for change in spec.changes:
        yield "change", str(change["version"]), change
    yield "writer", "code", {"hash": writer_hash()}


def _told(entry: Any) -> dict[str, Any]:
    """The fields of an entry that are not as they are by default, those aside that other lines tell."""
    told = ((part, getattr(entry, part.name)) for part in fields(entry) if part.name not in ELSEWHERE)
    return {part.name: value for part, value in told if value and value != part.default}


@cache
def writer_hash() -> str:
    """Of the code that lays out and writes: what it draws, it draws for every workbook alike."""
    digest = hashlib.sha256()
    for path in (
        *(HERE / f"{name}.py" for name in ("addresses", "layout", "version")),
        *sorted((HERE / "write").glob("*.py")),
    ):
        digest.update(path.name.encode() + path.read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()[:16]


def edition_of(version: str, lines: Iterable[str]) -> str:
    """Version and the first eight digits of the dump's hash."""
    digest = hashlib.sha256("\n".join(lines).encode()).hexdigest()
    return f"{version}-{digest[:8]}"
