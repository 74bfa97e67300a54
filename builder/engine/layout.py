"""Gives every row of every block its cells: where a thing stands, nothing of what it says."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from builder.engine import addresses
from builder.engine.spec import Block, Row, Sheet, SpecError, WorkbookSpec
from builder.engine.spec.errors import nearest

FIRST_LINE = 4  # zero-based: three frozen lines and an empty one stand above
CONSTANT_COLUMN = 1  # of their values, on the sheet of constants


class Place(NamedTuple):
    """A cell: sheet key, zero-based line and column."""

    sheet: str
    line: int
    column: int

    @property
    def address(self) -> str:
        """As in B12."""
        return addresses.address(self.column + 1, self.line + 1)


@dataclass(frozen=True, eq=False)
class Slot:
    """One cell of a row: of which block, which side ("" for none) and which instance."""

    block: Block
    row: Row
    side: str
    instance: str
    place: Place

    @property
    def told(self) -> str:
        """The key that a message about this cell names."""
        return self.instance if self.block.told_by == "instance" else self.row.key


@dataclass
class Section:
    """One stretch of a block on its sheet: the whole block, or its part for one side.

    A block laid out across has its heads on the line of its title; its note, if it has one, stands below the title.
    """

    block: Block
    side: str
    sheet: str
    title_line: int | None
    head_line: int
    first_line: int
    column: int
    lines: int = 0
    notes: tuple[str, ...] = ()


@dataclass(eq=False)
class Layout:
    """All slots, by (list, row key) and in sheet order, and the sections they stand in."""

    slots: list[Slot] = field(default_factory=list)
    sections: list[Section] = field(default_factory=list)
    by_row: dict[tuple[str, str], dict[tuple[str, str], Slot]] = field(default_factory=dict)
    lists_of: dict[str, list[str]] = field(default_factory=dict)
    block_of: dict[str, Block] = field(default_factory=dict)
    last_line: dict[str, int] = field(default_factory=dict)

    def cells(self, list_name: str, key: str) -> dict[tuple[str, str], Slot]:
        """The slots of a row by (side, instance)."""
        return self.by_row[list_name, key]

    def once(self, name: str, key: str) -> Slot:
        """The slot of a row of what is there once, whose list has this name."""
        return self.by_row[name, key]["", name]


def _columns(block: Block) -> int:
    return len(block.rows) if block.layout == "down" else len(block.instances.keys)


def lay_out(spec: WorkbookSpec) -> Layout:
    """Stacks the blocks of each sheet; a block `beside` another stands on the same lines, at its own column."""
    layout = Layout()
    for sheet in spec.sheets:
        cursor = FIRST_LINE - 1 if sheet.side or sheet.one_page else FIRST_LINE
        stacked: dict[str, list[Section]] = {}
        for block in sheet.blocks:
            layout.block_of[block.key] = block
            if block.pinned:
                _fill(layout, sheet, Section(block, "", sheet.key, None, 0, 0, 1))
                continue
            if block.beside:
                _demand_neighbour(sheet, block, block.beside, stacked)
                for side, other in zip(block.instances.owners, stacked[block.beside], strict=True):
                    head, first = other.head_line + block.lower, other.first_line + block.lower
                    _fill(layout, sheet, Section(block, side, sheet.key, None, head, first, block.at))
                continue
            cursor, stacked[block.key] = _stack(layout, sheet, block, cursor, tuple(spec.words.notes(block.key)))
        layout.last_line[sheet.key] = cursor
    return layout


def _demand_neighbour(sheet: Sheet, block: Block, beside: str, stacked: Mapping[str, list[Section]]) -> None:
    """A block may stand beside one that stands above it on its sheet and belongs to the same sides."""
    if beside not in stacked:
        wrong = f"stands beside '{beside}', which is no block above it on its sheet"
        raise SpecError(sheet.file, block.key, wrong, nearest(beside, stacked))
    if len(stacked[beside]) != len(block.instances.owners):
        wrong = f"stands beside '{beside}', but one of them is there once for each side and the other is not"
        raise SpecError(sheet.file, block.key, wrong, "Give both a list of the same owner")


def _stack(
    layout: Layout, sheet: Sheet, block: Block, cursor: int, notes: tuple[str, ...]
) -> tuple[int, list[Section]]:
    sections: list[Section] = []
    air = 0 if sheet.side else 1  # a page of one side has no line to spare
    if block.text:
        layout.sections.append(Section(block, "", sheet.key, cursor, cursor, cursor + 1, 0, len(block.text)))
        return cursor + 1 + len(block.text) + air, sections
    down = block.layout == "down"
    lines = max(len(block.instances.keys) if down else len(block.rows), block.room)
    for side in block.instances.owners:
        title = cursor if block.titled else None
        below = cursor + len(notes) + (1 if block.titled else 0)
        head, first = (below, below + 1) if down else (cursor, below)
        section = Section(block, side, sheet.key, title, head, first, 0 if down else 1, lines, notes)
        sections.append(section)
        _fill(layout, sheet, section)
        cursor, notes = first + lines + air, ()  # said once, for both sides
    return cursor, sections


def _fill(layout: Layout, sheet: Sheet, section: Section) -> None:
    block = section.block
    layout.sections.append(section)
    if section.column + _columns(block) > len(sheet.columns):
        raise SpecError(sheet.file, block.key, "is wider than its sheet", "Add a width to columns, or lay it out down")
    for r, row in enumerate(block.rows):
        if row.kind == "blank":
            continue
        for i, instance in enumerate(block.instances.keys):
            across = block.layout == "across"
            line = section.first_line + (r if across else i)
            column = 0 if row.whole else section.column + (i if across else r)
            side = instance if block.instances.per == "sides" else section.side
            slot = Slot(block, row, side, instance, Place(sheet.key, line, column))
            layout.slots.append(slot)
            layout.by_row.setdefault((block.instances.name, row.key), {})[side, instance] = slot
        lists = layout.lists_of.setdefault(row.key, [])
        if block.instances.name not in lists:
            lists.append(block.instances.name)


def place_constants(spec: WorkbookSpec) -> dict[str, Place]:
    """The cell of every constant, on the sheet of constants."""
    sheets = [sheet.key for sheet in spec.sheets if sheet.generated == "constants"]
    if not (sheets or spec.constants):
        return {}
    if len(sheets) != 1:
        raise SpecError(spec.name, "generated", f'is "constants" on {len(sheets)} sheets', "Say it on one sheet")
    return {key: Place(sheets[0], FIRST_LINE + 2 + n, CONSTANT_COLUMN) for n, key in enumerate(spec.constants)}


def formula_slots(layout: Layout) -> Iterator[Slot]:
    """The slots that hold a formula."""
    return (slot for slot in layout.slots if slot.row.role(slot.instance) == "formula")
