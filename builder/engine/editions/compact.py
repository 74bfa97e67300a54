"""A workbook's dump with one line a row of cells where the cells differ only by their place, and back again.

A line speaks for a run of cells: `Sheet!B15:C15 | mean_rate | sides | formula | =IF(B7>0,B12,$B$26) | result | locked`.
What follows $ is the same in every cell of the run, other references move with it. Nothing is lost: `expand` gives
the lines of `builder.engine.dump`, one a cell, whose hash is the edition.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from builder.engine.addresses import COLUMN, PLAIN, TITLE, address, box, column_of
from builder.engine.dump import is_dumped
from builder.engine.layout import Slot
from builder.engine.model import Model

BAR = " | "
COPIED = "copied"  # before a line that stands as in the dump: the first of a long list, whose copies follow below it
COPIES = " to "
APART = re.compile(r"""("(?:[^"]|"")*"|""" + f"{TITLE})")  # texts and sheet names hold no references
REFERENCE = re.compile(rf"(?<![A-Za-z0-9_])(\$?)({COLUMN})\$?([0-9]+)(?![A-Za-z0-9_(])")
AREA = re.compile(f"{PLAIN}(?::{PLAIN})?")
RUN = re.compile(r"(?:(\w+)\.)?(\w+)(?:\[(\d+):(\d+)\])?")

Spot = tuple[int, int]  # one-based column and line
Parts = tuple[tuple[str, ...], tuple[Spot, ...]]


def compact(model: Model) -> Iterator[str]:
    """The lines of a workbook: constants, lists, runs of cells, words."""
    lines = iter(model.dump)
    for _ in model.spec.constants:
        yield next(lines)
    for owner in model.spec.lists.values():
        yield BAR.join(("list", owner.name, owner.per, " ".join(owner.keys)))
    cells = [(slot, next(lines)) for slot in model.layout.slots if is_dumped(slot)]
    start = 0
    while start < len(cells):
        count, line = _run(cells, start)
        yield line
        start += count
    for line in lines:
        yield line.replace("\\", "\\\\").replace("\n", "\\n")


def expand(lines: Iterable[str]) -> Iterator[str]:
    """The lines of the dump, one a cell. Raises ValueError for a line that is none."""
    lists: dict[str, list[str]] = {}
    for line in lines:
        fields = line.split(BAR)
        if fields[0] == "list":
            lists[fields[1]] = fields[3].split(" ")
        elif fields[0] == COPIED:
            yield line.partition(BAR)[2]
        elif fields[0] in ("words", "look"):
            yield line.replace("\\\\", "\0").replace("\\n", "\n").replace("\0", "\\")
        elif fields[2] == "constant":
            yield line
        else:
            yield from _cells(line, lists)


def _run(cells: Sequence[tuple[Slot, str]], start: int) -> tuple[int, str]:
    """How many of the cells from there on one line can speak for, and that line."""
    slot, line = cells[start]
    place, _, rest = line.partition(BAR)
    if COPIES in place:
        return 1, f"{COPIED}{BAR}{line}"
    role, holds, tail = _fields(rest.partition(BAR)[2])
    pieces, spots = split(holds) if role == "formula" else ((holds,), ())
    first = _spot(slot)
    moves: list[bool | None] = [None] * len(spots)
    count = 1
    for other, other_line in map(cells.__getitem__, range(start + 1, len(cells))):
        apart = other.side != slot.side and slot.block.instances.per != "sides"
        if apart or other.row is not slot.row or COPIES in other_line.partition(BAR)[0]:
            break
        found_role, found, found_tail = _fields(other_line.partition(BAR)[2].partition(BAR)[2])
        if (found_role, found_tail) != (role, tail):
            break
        other_pieces, other_spots = split(found) if role == "formula" else ((found,), ())
        step = (_spot(other)[0] - first[0], _spot(other)[1] - first[1])
        if other_pieces != pieces or (step[0] and step[1]) or max(step) != count:
            break
        kept = [_kind(a, b, step) for a, b in zip(spots, other_spots, strict=True)]
        if any(kind is None or before not in (None, kind) for kind, before in zip(kept, moves, strict=True)):
            break
        moves, count = list(kept), count + 1
    last = cells[start + count - 1][0].place.address
    sheet = place.rpartition("!")[0]
    area = f"{sheet}!{slot.place.address}" + (f":{last}" if count > 1 else "")
    written = _write(pieces, spots, [move is False for move in moves]) if role == "formula" else holds
    return count, BAR.join((area, slot.row.key, _owner(slot, count), role, written, tail))


def _fields(rest: str) -> tuple[str, str, str]:
    """Role, content and what follows of a cell's line after its name."""
    role, _, more = rest.partition(BAR)
    holds, style, lock = more.rsplit(BAR, 2)
    return role, holds, f"{style}{BAR}{lock}"


def _owner(slot: Slot, count: int) -> str:
    """The list a run belongs to, with the side, and which of its instances when it is not all of them."""
    owner = slot.block.instances
    name = f"{slot.side}.{owner.name}" if slot.side and owner.per != "sides" else owner.name
    at = owner.keys.index(slot.instance)
    return name if count == len(owner.keys) else f"{name}[{at}:{at + count}]"


def _cells(line: str, lists: dict[str, list[str]]) -> Iterator[str]:
    place, key, owner, rest = line.split(BAR, 3)
    role, holds, tail = _fields(rest)
    sheet, _, area = place.rpartition("!")
    run = RUN.fullmatch(owner)
    if not AREA.fullmatch(area) or not run or run[2] not in lists:
        raise ValueError(f"no line of an edition: {line[:60]}")
    column, number, last, _ = box(area)
    across = last != column
    keys = lists[run[2]][int(run[3] or 0) : int(run[4]) if run[4] else None]
    pieces = cut(holds) if role == "formula" else [holds]
    for step, instance in enumerate(keys):
        steps = (step, 0) if across else (0, step)
        named = (run[1], "" if instance == run[1] else instance, key)
        cell = address(column + steps[0], number + steps[1])
        yield BAR.join((f"{sheet}!{cell}", ".".join(part for part in named if part), role, moved(pieces, steps), tail))


def split(formula: str) -> Parts:
    """A formula's text between its references, and the references."""
    pieces, spots, held = [], [], ""
    for number, part in enumerate(APART.split(formula)):
        if number % 2:
            held += part
            continue
        end = 0
        for found in REFERENCE.finditer(part):
            pieces.append(held + part[end : found.start()])
            spots.append((column_of(found[2]), int(found[3])))
            held, end = "", found.end()
        held += part[end:]
    return (*pieces, held), tuple(spots)


def cut(formula: str) -> list[str | Spot]:
    """A formula of a run between the references that move with the cell, and those; others stay, without their $."""
    found: list[str | Spot] = []
    for number, part in enumerate(APART.split(formula)):
        end = 0
        for reference in REFERENCE.finditer(part) if number % 2 == 0 else ():
            found.append(part[end : reference.start()])
            end = reference.end()
            spot = column_of(reference[2]), int(reference[3])
            found.append(f"{reference[2]}{reference[3]}" if reference[1] else spot)
        found.append(part[end:])
    return found


def moved(pieces: Sequence[str | Spot], step: Spot) -> str:
    """The formula of the cell that is so many columns and lines away."""
    return "".join([p if isinstance(p, str) else address(p[0] + step[0], p[1] + step[1]) for p in pieces])


def _kind(first: Spot, other: Spot, step: Spot) -> bool | None:
    """Whether a reference moves with its cell (True), stays (False), or does neither."""
    if (other[0] - first[0], other[1] - first[1]) == step:
        return True
    return False if other == first else None


def _write(pieces: Sequence[str], spots: Sequence[Spot], fixed: Sequence[bool]) -> str:
    text = pieces[0]
    for piece, (column, line), stays in zip(pieces[1:], spots, fixed, strict=True):
        text += address(column, line, stays) + piece
    return text


def _spot(slot: Slot) -> Spot:
    return slot.place.column + 1, slot.place.line + 1
