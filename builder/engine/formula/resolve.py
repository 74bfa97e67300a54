"""A name in a formula becomes a cell, a range, a constant or a text, seen from the slot in which it stands.

A plain name is looked for in its own instance, its side, what is there once, a list that has an instance of the same
key, and the constants; a list's name is its whole range. Prefixes: word, label, choice, point (texts), where (the
words for a typed cell's place), those of the sides (a row of theirs, or a list that each of them has), all, upto (the
own list, whole or down to here), fixed (of a row over its list, the cells that the specs fill), before, after (the
neighbour in the own list, which closes into a circle), rows (all rows of a block in this instance), block (a whole
block), labels (a block's labels), a list's or an instance's key.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from builder.engine.addresses import address, on_sheet
from builder.engine.layout import Layout, Place, Slot
from builder.engine.spec import SpecError, WorkbookSpec
from builder.engine.spec.errors import nearest

TEXTS = ("word", "label", "choice", "point")


@dataclass(frozen=True)
class Reference:
    """What a name stands for: the text to write, and what it is."""

    text: str
    kind: str  # "number", "word", "range", "text" or "constant"
    slots: tuple[Slot, ...] = ()


class Resolver:
    """Resolves the names of one workbook."""

    def __init__(self, spec: WorkbookSpec, layout: Layout, constants: dict[str, Place]) -> None:
        self.spec, self.layout, self.constants = spec, layout, constants

    def resolve(self, name: str, home: Slot) -> Reference:
        """The reference of a name; an unknown or ambiguous name is a SpecError that names the row."""
        prefix, dot, rest = name.rpartition(".")
        if not dot:
            return self._plain(name, home)
        if prefix in TEXTS:
            return Reference(quoted(self.spec.words.get(prefix, rest)), "text")
        if prefix == "where":
            return Reference(quoted(self.where(self._plain("typed_" + rest, home).slots)), "text")
        sides = self.spec.sides
        if prefix in (*sides.keys, sides.one, sides.other):
            return self._in_side(rest, sides.owner(prefix, home.side), home)
        if prefix in ("all", "upto"):
            slots = self._list(home.block.instances.name, rest, home.side, home)
            if prefix == "upto":
                keys = home.block.instances.keys
                slots = slots[: keys.index(home.instance) + 1]
            return self._range(slots, home)
        if prefix == "fixed":
            return self._range(self._fixed(rest, home), home)
        if prefix in ("before", "after"):
            keys = home.block.instances.keys
            at = keys.index(home.instance) + (1 if prefix == "after" else -1)
            cell = self.layout.by_row.get((home.block.instances.name, rest), {}).get((home.side, keys[at % len(keys)]))
            if cell is None:
                raise self._fail(name, home)
            return self.cell(cell, home, moves=True)
        if prefix in ("rows", "block", "labels"):
            return self._block(prefix, rest, home)
        if prefix in self.spec.lists:
            return self._range(self._list(prefix, rest, home.side, home), home)
        return self._instance(prefix, rest, home)

    def where(self, slots: tuple[Slot, ...]) -> str:
        """A place in words: the sheet's title and the cell, or the first and the last of several."""
        first, last = slots[0].place, slots[-1].place
        to = f"{self.spec.words.get('word', 'cells_to')}{last.address}" if len(slots) > 1 else ""
        return f"{self.spec.sheet_title(first.sheet)} {first.address}{to}"

    def _fail(self, name: str, home: Slot) -> SpecError:
        known = [*self.layout.lists_of, *self.constants]
        return SpecError(
            home.row.file, home.told, f"names '{name}', which is not known here", f"Mend it; {nearest(name, known)}"
        )

    def _plain(self, name: str, home: Slot) -> Reference:
        own = home.block.instances.name
        lists = [key for key in self.layout.lists_of.get(name, []) if key == own or not self.spec.lists[key].apart]
        if own in lists:
            return self.cell(self.layout.cells(own, name)[home.side, home.instance], home)
        of_sides = self.spec.sides.name
        if of_sides in lists and home.side:
            return self.cell(self.layout.cells(of_sides, name)[home.side, home.side], home)
        if self.spec.once in lists:
            return self.cell(self.layout.once(self.spec.once, name), home)
        if name in self.constants:
            return Reference(self._written(self.constants[name], home, own=False), "constant")
        if len(lists) != 1 or lists == [of_sides]:
            raise self._fail(name, home)
        cells = self.layout.cells(lists[0], name)
        for owner in ("", home.side):
            if (owner, home.instance) in cells:
                return self.cell(cells[owner, home.instance], home)
        return self._range(self._list(lists[0], name, home.side, home), home)

    def _in_side(self, name: str, side: str, home: Slot) -> Reference:
        for list_name in self.layout.lists_of.get(name, []):
            if list_name == self.spec.sides.name and side:
                return self.cell(self.layout.cells(list_name, name)[side, side], home)
            if self.spec.lists[list_name].per == "side":
                return self._range(self._list(list_name, name, side, home), home)
        raise self._fail(name, home)

    def _list(self, list_name: str, name: str, side: str, home: Slot) -> list[Slot]:
        cells = self.layout.by_row.get((list_name, name))
        if not cells:
            raise self._fail(name, home)
        return [slot for (owner, _), slot in cells.items() if owner in ("", side)]

    def _fixed(self, name: str, home: Slot) -> list[Slot]:
        lists = [key for key in self.layout.lists_of.get(name, []) if not self.spec.lists[key].apart]
        if len(lists) != 1:
            raise self._fail(f"fixed.{name}", home)
        return [s for s in self._list(lists[0], name, home.side, home) if s.row.role(s.instance) == "constant"]

    def _instance(self, instance: str, name: str, home: Slot) -> Reference:
        for list_name in self.layout.lists_of.get(name, []):
            if self.spec.lists[list_name].apart and not home.block.instances.apart:
                continue
            cells = self.layout.cells(list_name, name)
            for key in ((home.side, instance), ("", instance)):
                if key in cells:
                    return self.cell(cells[key], home)
        raise self._fail(f"{instance}.{name}", home)

    def _block(self, prefix: str, key: str, home: Slot) -> Reference:
        block = self.layout.block_of.get(key)
        if block is None:
            raise self._fail(f"{prefix}.{key}", home)
        rows = [row for row in block.rows if row.kind != "blank"]
        if prefix == "rows" and block.instances.long and block.instances is home.block.instances:
            cells = [self.layout.cells(block.instances.name, row.key)[home.side, home.instance] for row in rows]
            return self._range(cells, home)
        slots = [s for row in rows for s in self.layout.cells(block.instances.name, row.key).values()]
        if prefix == "block":
            return self._range([s for s in slots if s.side in ("", home.side)], home)
        side = home.side
        mine = [s for s in slots if s.instance in (home.instance, side) and s.side in ("", side)]
        if block.instances.once:
            mine = slots
        if prefix == "labels" and mine:
            column = [Place(s.place.sheet, s.place.line, 0) for s in mine]
            return Reference(f"{self._written(column[0], home)}:{column[-1].address}", "range")
        return self._range(mine, home)

    def _range(self, slots: Iterable[Slot], home: Slot) -> Reference:
        found = tuple(slots)
        if not found:
            raise self._fail("an empty range", home)
        places = [slot.place for slot in found]
        first = Place(places[0].sheet, min(p.line for p in places), min(p.column for p in places))
        last = Place(places[0].sheet, max(p.line for p in places), max(p.column for p in places))
        area = (last.line - first.line + 1) * (last.column - first.column + 1)
        if area != len(found):
            raise SpecError(
                home.row.file, home.told, "needs a range that is not one rectangle", "Lay its block out together"
            )
        own = all(self._own(slot, home) for slot in found)
        end = last.address if own or not home.block.instances.long else address(last.column + 1, last.line + 1, True)
        if len(found) == 1:  # written as a cell: where one value must stand, an area of one cell is an error elsewhere
            return Reference(self._written(first, home, own), "range", found)
        return Reference(f"{self._written(first, home, own)}:{end}", "range", found)

    def cell(self, slot: Slot, home: Slot, moves: bool = False) -> Reference:
        """One cell as a formula at `home` names it; `moves`: it moves along when that formula is copied down."""
        kind = "word" if slot.row.is_word else "number"
        if slot.row.role(slot.instance) == "constant":
            kind = "constant"
        return Reference(self._written(slot.place, home, moves or self._own(slot, home)), kind, (slot,))

    @staticmethod
    def _own(slot: Slot, home: Slot) -> bool:
        """Whether a slot stands in the same line of the same list."""
        return slot.instance == home.instance and slot.block.instances is home.block.instances

    def _written(self, place: Place, home: Slot, own: bool = True) -> str:
        """A cell as it is written; in a long list all that is not of the own line is fixed, so that lines are alike."""
        fixed = home.block.instances.long and not own
        written = address(place.column + 1, place.line + 1, fixed)
        if place.sheet == home.place.sheet:
            return written
        return on_sheet(self.spec.sheet_title(place.sheet), written)


def quoted(text: str) -> str:
    """A text as it stands in a formula."""
    return '"' + text.replace('"', '""') + '"'
