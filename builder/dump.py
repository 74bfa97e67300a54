"""The readable dump of a workbook:
one line a cell, under version control, so that a reviewer sees a change as a small diff."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping

from builder.formula.compile import Compiled
from builder.layout import Layout, Place, Slot
from builder.spec import WorkbookSpec


def name_of(slot: Slot) -> str:
    """The name of a cell over the whole workbook: eye, instance and row, as in left.haigis.goal_power."""
    return ".".join(
        part for part in (slot.eye, slot.instance if slot.instance != slot.eye else "", slot.row.key) if part
    )


def dump_lines(
    spec: WorkbookSpec, layout: Layout, constants: Mapping[str, Place], compiled: Mapping[Place, Compiled]
) -> Iterator[str]:
    """Cell, key, role, what it holds, style, lock and limits;
    the edition itself is left out, it comes from these lines."""
    for constant in spec.constants.values():
        place = constants[constant.key]
        holds = f"{constant.value!r} {constant.unit}"
        yield f"{spec.sheet_title(place.sheet)}!{place.address} | {constant.key} | constant | {holds} | locked"
    for slot in layout.slots:
        row, place = slot.row, slot.place
        role = row.role(slot.instance)
        if slot.block.instances.long and role != "constant" and not _leads(slot):
            continue  # the lines of a long list are copies of their first
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
            last = layout.cells(slot.block.instances.name, row.key)[slot.eye, slot.block.instances.keys[-1]]
            cells += f" to {last.place.address}"
        yield f"{spec.sheet_title(place.sheet)}!{cells} | {name} | {role} | {holds} | {row.style or 'plain'} | {lock}"
    for table, texts in spec.words.tables.items():
        for key, text in texts.items():
            yield f"words | {table}.{key} | {text}"


def _leads(slot: Slot) -> bool:
    """Whether a slot stands in the first line of its formula in a long list."""
    row, keys = slot.row, slot.block.instances.keys
    return slot.instance in (keys[0], *row.formulas) or (keys[0] in row.formulas and slot.instance in keys[1:2])


def edition_of(version: str, lines: Iterable[str]) -> str:
    """Version and the first eight digits of the dump's hash."""
    digest = hashlib.sha256("\n".join(lines).encode()).hexdigest()
    return f"{version}-{digest[:8]}"
