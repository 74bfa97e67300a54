"""What rows that only display should show, as written by hand: `tests/displays/<workbook>/*.toml`.

Such a row has no twin in the reference. A file says what stands in the cells that it reads, and what it then shows:

    [[shows]]
    about = "Axis 30 degrees, seen from the head of the table: half a turn further on."
    eye = "right"                            # left out: either eye shows the same
    given = { marks_axis = 30, dial_turn = 180, dial_marks = 1 }
    shows = { "first_end.bar_across" = "=-dial_lens_radius*cos(210)" }

What is not given is as in a blank workbook. A key is that of a row, with its instance or its list before it, or
`fellow` for the other eye, and * for any letters; a list of values is for all instances, a table for some. A value is a
number, a text in which {word.x}, {choice.x}, {label.x}, {where.x} and {edition} are cited, "" for an empty cell, or
after = a sum of numbers and constants by their names, with sin and cos of degrees.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Any

from builder.engine.formula.resolve import Resolver
from builder.engine.layout import Place, Slot
from builder.engine.model import Model, load_model
from builder.engine.witness.untwinned import Untwinned
from builder.planner.reference.eyes import EYES
from tests.support.workbooks import expected

HOME = Path(__file__).resolve().parents[1] / "displays"
CITED = re.compile(r"\{(word|choice|label|where|point)\.(\w+)\}")
FUNCTIONS = {
    "cos": lambda degrees: math.cos(math.radians(degrees)),
    "sin": lambda degrees: math.sin(math.radians(degrees)),
    "abs": abs,
}


@dataclass(frozen=True)
class Shows:
    """One state: what stands in cells, and what others should then show."""

    name: str
    given: Mapping[Place, Any]
    wanted: Mapping[Place, Any]


@dataclass(frozen=True)
class Reader:
    """Reads the entries of a workbook's files for one eye."""

    model: Model
    eye: str

    def cells(self, entry: Mapping[str, Any], name: str) -> dict[Place, Any]:
        """The cells of an entry with their values. Raises KeyError for a key that is no row."""
        found: dict[Place, Any] = {}
        for key, value in entry.items():
            slots = self._slots(key)
            for slot, one in zip(slots, self._each(slots, value, f"{name}: {key}"), strict=True):
                if one is not ...:
                    found[slot.place] = self._value(one)
        return found

    def _slots(self, key: str) -> list[Slot]:
        prefix, _, rest = key.rpartition(".")
        eye = self.eye
        if prefix == "fellow":
            prefix, eye = "", EYES[1 - EYES.index(eye)]
        layout, spec = self.model.layout, self.model.spec
        if "*" in rest:
            alike = [key for key in layout.lists_of if fnmatchcase(key, rest)]
            return [slot for key in alike for slot in self._slots(key)]
        lists = [name for name in layout.lists_of[rest] if name == prefix or not spec.lists[name].apart]
        mine = {name: {at: s for at, s in layout.cells(name, rest).items() if at[0] in ("", eye)} for name in lists}
        if prefix and prefix not in lists:
            return [next(s for cells in mine.values() for (_, instance), s in cells.items() if instance == prefix)]
        there = [prefix] if prefix else [name for name in lists if mine[name]]
        name = next((name for name in ("eyes", "plan") if name in there), there[0])
        if len(there) > 1 and name not in ("eyes", "plan"):
            raise KeyError(f"{key} is a row of {', '.join(there)}: name the list")
        return list(mine[name].values())

    @staticmethod
    def _each(slots: Sequence[Slot], value: Any, name: str) -> list[Any]:
        if isinstance(value, Mapping):
            unknown = set(value) - {slot.instance for slot in slots}
            if unknown:
                raise KeyError(f"{name} has no {', '.join(unknown)}")
            return [value.get(slot.instance, ...) for slot in slots]
        if isinstance(value, list):
            if len(value) != len(slots):
                raise ValueError(f"{name} has {len(slots)} cells, not {len(value)}")
            return value
        return [value] * len(slots)

    def _value(self, value: Any) -> Any:
        if not isinstance(value, str):
            return float(value)
        if value.startswith("="):
            known = {key: constant.value for key, constant in self.model.spec.constants.items()}
            return float(eval(value[1:], {"__builtins__": {}}, {**known, **FUNCTIONS}))
        value = value.replace("{edition}", self.model.edition)
        return CITED.sub(lambda found: self._cited(found[1], found[2]), value) or None

    def _cited(self, table: str, key: str) -> str:
        if table != "where":
            return str(self.model.spec.words.get(table, key))
        cells = self.model.layout.by_row
        typed = next(cells[name, f"typed_{key}"] for name in self.model.layout.lists_of[f"typed_{key}"])
        here = tuple(one for (side, _), one in typed.items() if side in ("", self.eye))
        return Resolver(self.model.spec, self.model.layout, dict(self.model.constants)).where(here)


@cache
def written(workbook: str) -> tuple[Shows, ...]:
    """All entries of a workbook; one that names no eye twice, for either."""
    model, found = load_model(workbook), []
    for path in sorted((HOME / workbook).glob("*.toml")):
        for number, entry in enumerate(tomllib.loads(path.read_text(encoding="utf-8"))["shows"], 1):
            for eye in (entry["eye"],) if "eye" in entry else EYES if model.spec.sides.keys else ("",):
                name, reader = f"{path.stem} {number} ({entry['about']}) {eye}".rstrip(), Reader(model, eye)
                given = reader.cells(entry.get("given", {}), name)
                found.append(Shows(name, given, reader.cells(entry["shows"], name)))
    return tuple(found)


@cache
def blank(workbook: str) -> dict[Place, Any]:
    """Every formula cell of the blank workbook."""
    return expected(load_model(workbook), [{}])[0]


@cache
def displayed(workbook: str) -> Untwinned:
    """The evaluator of a workbook, made once in a process."""
    return Untwinned(load_model(workbook))
