"""What a workbook says of itself as a whole, its sides, and the lists of instances that its blocks are laid out over.

Sides are what a workbook is made for twice, each with a copy of the lists that belong to a side. It may have none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from builder.engine.spec.errors import SpecError
from builder.engine.spec.reading import demand, read_toml
from builder.engine.spec.shapes import HEAD, SIDES, WORKBOOK, demand_shape, demand_tables, list_shape

ONCE = "book"  # the name of the list of what is there once, where a workbook gives it none
WHOLE = "whole"
OF_SIDE = "point"  # what the points of each side stand under
PAIR = 2  # sides, of which one is the other of the other
GENERATED = "columns"  # the list of the columns of a long list's lines, which the builder makes


@dataclass(frozen=True)
class Sides:
    """What the workbook is made for twice, such as a right and a left one.

    `name`: the list whose instances they are. `one` says in the specs that a list exists once for each side, and
    leads to a row of the own side; `other`, of two sides alone, leads to that of the other one. `used`: the row that is
    1 while anything is typed for a side; `opening`: the row that opens each sentence about it.
    """

    name: str = ""
    keys: tuple[str, ...] = ()
    one: str = ""
    other: str = ""
    used: str = ""
    opening: str = ""

    def owner(self, prefix: str, home: str) -> str:
        """The side that a prefix leads to, seen from a side, or from no side (""); "" for no side."""
        if prefix in self.keys:
            return prefix
        if not home or not prefix or prefix not in (self.one, self.other):
            return ""
        return home if prefix == self.one else self.keys[1 - self.keys.index(home)]


NO_SIDES = Sides()


@dataclass(frozen=True)
class InstanceList:
    """The instances of a block, and to whom they belong.

    `per` is "whole" (the list exists once in the workbook), "side" (once for each side), "sides" (its instances
    are the sides) or the one side it is of; `owners` are the sides that have it, "" for the workbook.

    `apart`: other rows find none of its rows but by the list's own name, so examples may share their keys.
    A `long` list is so many lines that are all alike: its formulas are written once and copied down.
    """

    name: str
    per: str
    keys: tuple[str, ...]
    apart: bool = False
    long: bool = False
    owners: tuple[str, ...] = ("",)

    @cached_property
    def place_of(self) -> Mapping[str, int]:
        """Each instance's place among the keys."""
        return {key: at for at, key in enumerate(self.keys)}

    @property
    def once(self) -> bool:
        """Whether it is the built-in list of what is there once, which is its own only instance."""
        return self.keys == (self.name,)


def once_list(name: str) -> InstanceList:
    """The built-in list of what is there once in a workbook."""
    return InstanceList(name, WHOLE, (name,))


def read_sides(table: Mapping[str, Any]) -> Sides:
    """The sides that a workbook declares; none without the table."""
    return Sides(**{**table, "keys": tuple(table["keys"])}) if table else NO_SIDES


def read_about(folder: Path) -> dict[str, Any]:
    """What a workbook says of itself as a whole; the file may be missing. Raises SpecError."""
    path = folder / "workbook.toml"
    table = read_toml(path) if path.exists() else {}
    demand_shape(path.name, "workbook", table, WORKBOOK)
    if "sides" in table:
        demand_shape(path.name, "sides", table["sides"], SIDES)
        if "other" in table["sides"] and len(table["sides"]["keys"]) != PAIR:
            wrong = f"has 'other', but {len(table['sides']['keys'])} sides"
            raise SpecError(path.name, "sides", wrong, "Leave out `other`: only of two sides is one the other")
    if "head" in table:
        demand_shape(path.name, "head", table["head"], HEAD)
    return table


@cache
def takers(specs: Path) -> dict[str, str]:
    """The workbooks that take the lines of another, with that other. Raises SpecError."""
    found = {path.parent.name: read_about(path.parent).get("takes_from", "") for path in _abouts(specs)}
    return {name: taken for name, taken in found.items() if taken}


def meant(specs: Path) -> str:
    """The workbook that is meant where none is named: the one that takes no lines of another. Raises SpecError."""
    found = [path.parent.name for path in _abouts(specs) if path.parent.name not in takers(specs)]
    if len(found) != 1:
        wrong = f"lacks 'takes_from' in {len(found)} workbooks: {', '.join(found) or 'there is none'}"
        raise SpecError("workbook.toml", "takes_from", wrong, "One alone takes no lines: name a workbook, or say whose")
    return found[0]


def _abouts(specs: Path) -> list[Path]:
    return sorted(specs.glob("*/workbook.toml"))


def read_lists(folder: Path, lines: int | None, sides: Sides, once: str) -> dict[str, InstanceList]:
    """The lists of a workbook; `lines`: another length of long lists; `once`: the built-in one. Raises SpecError."""
    lists = {once: once_list(once)}
    if sides.name:
        lists[sides.name] = InstanceList(sides.name, "sides", sides.keys)
    tables = read_toml(folder / "instances.toml")
    demand_tables("instances.toml", tables, list_shape(once, (sides.one, *sides.keys) if sides.name else ()))
    for name, table in tables.items():
        if name in lists or name == GENERATED:
            raise SpecError("instances.toml", name, "is a list that is built in", "Rename it")
        if "keys" not in table:
            demand("instances.toml", name, table, ("prefix", "count"))
        apart, long = table.get("apart", False), table.get("long", False)
        count = lines if long and lines is not None else table.get("count", 0)
        keys = table["keys"] if "keys" in table else [f"{table['prefix']}{n}" for n in range(1, count + 1)]
        twice = [key for key in keys if keys.count(key) > 1]
        if twice or not keys:
            wrong = f"has '{twice[0]}' twice" if twice else "has no instance"
            raise SpecError("instances.toml", name, wrong, "Mend its keys, or its prefix and count")
        per = {sides.one: "side", once: WHOLE}.get(table["per"], table["per"])
        owners = ("",) if per == WHOLE else sides.keys if per == "side" else (per,)
        lists[name] = InstanceList(name, per, tuple(keys), apart, long, owners)
    return lists


def of_whole(once: str) -> str:
    """What the points of the whole workbook stand under, by the name of the list of what is there once."""
    return f"{once}_point"


def sentence_rows(once: str) -> dict[str, str]:
    """The row that holds the sentence of each point, by the list of the points."""
    return {f"{name}s": f"{name}_sentence" for name in (of_whole(once), OF_SIDE)}
