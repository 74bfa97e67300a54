"""The sides of a workbook: what its plan is made for twice, each with a copy of the lists that belong to a side.

Declared in a workbook's own `workbook.toml`; a workbook may have none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Sides:
    """`name`: the list whose instances they are. `one` says in the specs that a list exists once for each side, and
    leads to a row of the own side; `other` leads to that of the other one. `used`: the row that is 1 while anything is
    typed for a side; `opening`: the row that opens each sentence about it.
    """

    name: str = ""
    keys: tuple[str, ...] = ()
    one: str = ""
    other: str = ""
    used: str = ""
    opening: str = ""

    def owner(self, prefix: str, home: str) -> str:
        """The side that a prefix leads to, seen from a side, or from the plan (""); "" for no side."""
        if prefix in self.keys:
            return prefix
        if not home or prefix not in (self.one, self.other):
            return ""
        return home if prefix == self.one else self.keys[1 - self.keys.index(home)]


NO_SIDES = Sides()


def read_sides(table: Mapping[str, Any]) -> Sides:
    """The sides that a workbook declares; none without the table."""
    return Sides(**{**table, "keys": tuple(table["keys"])}) if table else NO_SIDES
