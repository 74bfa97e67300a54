"""Reads the entries of a spec file: a row, an input, a chart. A bad name or formula is a SpecError."""

from __future__ import annotations

import re
from collections.abc import Container
from dataclasses import replace
from typing import Any

from builder.engine.spec.charts import Chart, Series
from builder.engine.spec.decisions import HEADS, WORDS, read_decision
from builder.engine.spec.errors import SpecError, nearest
from builder.engine.spec.grammar import demand_formula
from builder.engine.spec.model import Input, Row

NAME = re.compile(r"[a-z][a-z0-9_]*")
CELL_LIKE = re.compile(r"[a-z]{1,3}[0-9]+")
TYPES = {  # of an input, and what each cannot do without
    "number": ("lowest", "highest", "unit"),
    "date": ("lowest", "highest"),
    "choice": ("choices",),
    "listed": ("list",),
    "text": ("highest",),
    "name": ("highest",),
    "identifier": ("highest",),
}


def check_name(file: str, key: str) -> None:
    """Refuses a name that could be a cell or a function, or is none."""
    if not NAME.fullmatch(key) or CELL_LIKE.fullmatch(key) or (len(key) < 6 and "_" not in key):
        raise SpecError(
            file, key, "is not a name", "Use lower-case letters, six or more or with an underscore, unlike a cell"
        )


def read_row(file: str, table: dict[str, Any], instances: tuple[str, ...] = ()) -> Row:
    """One row; `instances`: those that a `numbered` one counts."""
    key = table["key"]
    check_name(file, key)
    if table.get("kind") != "blank" and not any(
        name in table for name in ("formula", "formulas", "cells", "echo", "typed_count", "numbered", *HEADS)
    ):
        known = ", ".join(("formula", "formulas", "cells", "echo", "numbered", *HEADS))
        raise SpecError(file, key, "has neither formula nor cells", f"Give one of {known}")
    values = {name: value for name, value in table.items() if name not in ("use", "typed_count", "numbered", *WORDS)}
    decision = read_decision(file, table)
    if decision is not None:
        values |= {"decision": decision, "formula": decision.formula()}
        if "any_of" not in table:
            values.setdefault("unguarded", "needs" not in table)  # an empty flag is none, an empty value shows as empty
    if "numbered" in table:
        values["cells"] = {instance: n for n, instance in enumerate(instances, start=table["numbered"])}
    for name in ("needs", "any_of"):
        if name in values:
            values[name] = tuple(values[name])
    if values.pop("unguarded", False) or values.get("derived", False):
        if "needs" in values or "any_of" in values:
            raise SpecError(file, key, "is unguarded and has a guard", "Leave out needs and any_of, or unguarded")
        values["guarded"] = False
    publish = values.pop("publish", "")
    demand_formula(file, key, table.get("formula"), *table.get("formulas", {}).values())
    return Row(file=file, publish=publish, **values)


def read_row_of_each(file: str, table: dict[str, Any], each: str, instances: tuple[str, ...]) -> Row:
    """A row of a row set; used for several keys, `#` stands for the key in names and formulas."""
    if not each:
        return read_row(file, table, instances)

    def put(value: Any) -> Any:
        if isinstance(value, str):
            return value.replace("#", each)
        if isinstance(value, dict):
            return {name: put(part) for name, part in value.items()}
        return [put(part) for part in value] if isinstance(value, list) else value

    return replace(read_row(file, put(table), instances), label=table["key"].replace("#", "each"), of=each)


def read_input(
    file: str,
    block: str,
    table: dict[str, Any],
    choices: dict[str, list[str]],
    constants: Container[str],
) -> Input:
    """One input of a block, with the words of its choices."""
    key = table["key"]
    check_name(file, key)
    values = dict(table)
    if "choices" in values:
        if values["choices"] not in choices:
            raise SpecError(
                file, key, f"names the unknown choices '{values['choices']}'", nearest(values["choices"], choices)
            )
        values["list"] = f"fixed.offered_{values['choices']}"
        values["choices"] = tuple(choices[values["choices"]])
    demand_formula(file, key, table.get("conflict"))
    limits = (table.get(end) for end in ("lowest", "highest"))
    values["awaits"] = tuple(limit for limit in limits if isinstance(limit, str) and limit not in constants)
    item = Input(block=block, file=file, **values)
    _check_type(item, table)
    return item


def _check_type(item: Input, table: dict[str, Any]) -> None:
    """Refuses an input of no known type, one that lacks what its type needs, and limits that nothing lies between."""
    if item.type not in TYPES:
        todo = f"Use one of {', '.join(TYPES)}; {nearest(item.type, TYPES)}"
        raise SpecError(item.file, item.key, f"has the unknown type '{item.type}'", todo)
    for name in TYPES[item.type]:
        if name not in table:
            more = '; unit = "" for a pure number' if name == "unit" else ""
            wrong = f"is of the type {item.type} and has no '{name}'"
            raise SpecError(item.file, item.key, wrong, f"Give {', '.join(TYPES[item.type])}{more}")
    low, high = item.lowest, item.highest
    if isinstance(low, int | float) and isinstance(high, int | float) and low > high:
        raise SpecError(item.file, item.key, f"has its lowest {low} above its highest {high}", "Exchange or mend them")


def read_chart(table: dict[str, Any]) -> Chart:
    """One chart with its series."""
    series = tuple(Series(**entry) for entry in table["series"])
    limits = {name: tuple(table.get(name, ())) for name in ("across_limits", "up_limits")}
    return Chart(**{**table, "series": series, **limits})
