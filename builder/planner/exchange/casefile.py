"""Case files: what is typed into a workbook, by the keys that scripts rely on."""

from __future__ import annotations

import datetime
import re
import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from builder.engine.exchange.language import typed_in_language
from builder.engine.layout import Layout, Place, Slot
from builder.engine.model import Model
from builder.engine.spec.errors import nearest
from builder.engine.spec.model import Input
from builder.engine.told import Told
from builder.planner.reference.eyes import EYES

BY_NAME = "[@]"  # ends the key of a list of names, each typed as a yes beside what it names
TABLES = ("plan", *EYES, "lens")
YES = "yes"
DAY_ZERO = datetime.date(1899, 12, 30)
ABOUT = "about"  # what a case says of itself, to a reader of the file
EXPECT = "expect"  # what each eye should come to, and why; only tests read it, it fills nothing
EXPECTED = ("state", "power", "cylinder", "axis", "reasons", "silent", "by")


class CaseError(Told):
    """A mistake in a case file: file, key, what is wrong, the nearest key."""

    def __init__(self, file: str, key: str, wrong: str, todo: str) -> None:
        super().__init__(f"{file}, '{key}': {wrong}; {todo}")


def read_case(model: Model, path: Path) -> dict[Place, Any]:
    """The typed cells of a case file. Raises CaseError; a value out of limits is no mistake of the file."""
    try:
        with path.open("rb") as handle:
            case = tomllib.load(handle)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise CaseError(path.name, "syntax", str(error), "mend the line") from None
    return typed_cells(model, case, path.name)


def typed_cells(model: Model, case: dict[str, Any], file: str = "case") -> dict[Place, Any]:
    """The typed cells of a case given as tables, in the language of the workbook. Raises CaseError."""
    cells: dict[Place, Any] = {}
    slots = input_slots(model)
    for table, content in case.items():
        if table == ABOUT and isinstance(content, str):
            continue
        if table == EXPECT:
            _judge_expected(file, content)
            continue
        if table not in TABLES:
            raise CaseError(file, table, "is no table of a case", nearest(table, (*TABLES, EXPECT)))
        if table == "lens":
            cells |= _lens_cells(model, slots, content, file)
        elif not isinstance(content, dict):
            raise CaseError(file, table, "is not a table", f"write [{table}]")
        else:
            for key, value in content.items():
                cells |= _eye_cells(file, slots, table, key, value)
    return typed_in_language(model, cells)


def _judge_expected(file: str, eyes: Any) -> None:
    """Raises CaseError at a key that says nothing of what is expected."""
    if not isinstance(eyes, dict):
        raise CaseError(file, EXPECT, "is not a table", f"write [{EXPECT}.{EYES[0]}]")
    for eye, content in eyes.items():
        if eye not in EYES:
            raise CaseError(file, f"{EXPECT}.{eye}", "is no eye", nearest(eye, EYES))
        if not isinstance(content, dict):
            raise CaseError(file, f"{EXPECT}.{eye}", "is not a table", f"write [{EXPECT}.{eye}]")
        for key in content:
            if key not in EXPECTED:
                raise CaseError(file, f"{EXPECT}.{eye}.{key}", "is nothing one expects", nearest(key, EXPECTED))


Slots = Mapping[tuple[str, str], Slot]


def _eye_cells(file: str, slots: Slots, table: str, key: str, value: Any) -> dict[Place, Any]:
    """The cells of one key: a value, a list of values (key[0], key[1], …) or a list of tables (key[0].name, …)."""
    if (table, key) in slots:
        found = slots[table, key]
        return {found.place: typed_value(file, f"{table}.{key}", value, found.row.input)}
    named = {name: found for (t, name), found in slots.items() if t == table and name.startswith(f"{key}[")}
    if any(found.row.publish.endswith(BY_NAME) for found in named.values()):
        return _named_cells(file, named, table, key, value)
    if not any(re.fullmatch(r"\[\d+\](\.\w+)?", name.removeprefix(key)) for name in named):
        known = {k.partition("[")[0] for t, k in slots if t == table}
        raise CaseError(file, f"{table}.{key}", "is no input", nearest(key, known))
    if not isinstance(value, list):
        raise CaseError(file, f"{table}.{key}", "is not a list", "write a list")
    cells = {}
    for number, item in enumerate(value):
        pairs = (
            {f"{key}[{number}].{k}": v for k, v in item.items()}
            if isinstance(item, dict)
            else {f"{key}[{number}]": item}
        )
        for name, part in pairs.items():
            found_part = slots.get((table, name))
            if found_part is None:
                near = nearest(
                    name.partition(".")[2], {k.partition(".")[2] for t, k in slots if t == table and "." in k}
                )
                raise CaseError(
                    file, f"{table}.{name}", "has no place in the workbook", f"the list may be too long, or {near}"
                )
            cells[found_part.place] = typed_value(file, f"{table}.{name}", part, found_part.row.input)
    return cells


def _named_cells(file: str, slots: Mapping[str, Slot], table: str, key: str, value: Any) -> dict[Place, Any]:
    """The cells of a list of names: a yes beside each."""
    if not isinstance(value, list):
        raise CaseError(file, f"{table}.{key}", "is not a list", "write a list of names")
    cells = {}
    for name in value:
        found = slots.get(f"{key}[{name}]")
        if found is None:
            near = nearest(str(name), [part[len(key) + 1 : -1] for part in slots])
            raise CaseError(file, f"{table}.{key}", f"names '{name}', which needs no confirmation", near)
        cells[found.place] = YES
    return cells


def input_slots(model: Model) -> Slots:
    """Every input cell by table and key; the own lenses by table lens1 to lens6."""
    return _input_slots(model.layout)


@lru_cache(maxsize=8)  # asked of every case
def _input_slots(layout: Layout) -> Slots:
    slots = {}
    for slot in layout.slots:
        if slot.row.input is not None:
            owner = slot.side or ("plan" if slot.instance == "plan" else slot.instance.replace("own", "lens"))
            key = slot.row.publish.removeprefix("lens[].")
            if "[]" in key:
                key = key.replace("[]", f"[{slot.block.instances.keys.index(slot.instance)}]")
            key = key.replace(BY_NAME, f"[{slot.instance}]")
            slots[owner, key] = slot
    return slots


def _lens_cells(model: Model, slots: Slots, lenses: Any, file: str) -> dict[Place, Any]:
    if not isinstance(lenses, list):
        raise CaseError(file, "lens", "is not a list of lenses", "write [[lens]]")
    room = len(model.spec.lists["own_lenses"].keys)
    if len(lenses) > room:
        raise CaseError(file, "lens", f"holds {len(lenses)} lenses", f"the workbook has room for {room}")
    cells = {}
    for number, lens in enumerate(lenses, start=1):
        for key, value in lens.items():
            pairs = [(key, value)]
            if key == "cylinders":
                if not isinstance(value, list):
                    raise CaseError(file, "lens.cylinders", "is not a list", "write it in square brackets")
                pairs = [(f"cylinders[{n}]", item) for n, item in enumerate(value, start=1)]
            for name, item in pairs:
                found = slots.get((f"lens{number}", name))
                if found is None:
                    raise CaseError(
                        file, f"lens.{name}", "is no input", nearest(name, [k for t, k in slots if t == "lens1"])
                    )
                cells[found.place] = typed_value(file, f"lens.{name}", item, found.row.input)
    return cells


def typed_value(file: str, key: str, value: Any, item: Input | None) -> Any:
    """A value of a case file as it is typed into a cell: a date is its day number. Raises CaseError."""
    if isinstance(value, (list, dict)):
        raise CaseError(file, key, "is a list or table", "give one value")
    if isinstance(value, (datetime.datetime, datetime.time)):
        raise CaseError(file, key, "holds a time of day", "give a date alone")
    if isinstance(value, datetime.date):
        return float((value - DAY_ZERO).days)
    if item is not None and item.type == "date" and isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", value):
        try:
            return float((datetime.date.fromisoformat(value) - DAY_ZERO).days)
        except ValueError:
            return value
    return value
