"""Cells of a workbook as inputs and results by key, found through the file's own formula list."""

from __future__ import annotations

import datetime
import re
from typing import Any

from builder.engine.exchange.cellvalues import Cells
from builder.engine.exchange.listed import area_cells, list_lines, listed_edition
from builder.planner.exchange.casefile import BY_NAME, DAY_ZERO, YES
from builder.planner.reference.eyes import EYES

PER_EYE = 2
WORD_LISTS = ("reasons", "plan_reasons", "toric_reasons", "warnings")
NAMED_LISTS = ("slips",)  # lists of objects that tell which instance they are of
EDITION = "edition_code"  # the row that shows it
DATES = ("typed_plan_date", "typed_earlier_date")


def arrange(cells: Cells, name: str = "the file") -> dict[str, Any]:
    """Cells by place -> values by key."""
    result: dict[str, Any] = {"edition": None, "plan": {}, **{eye: {} for eye in EYES}}
    lists: dict[tuple[str, str], dict[str, list[Any]]] = {}
    constant: set[str] = set()
    lines = list_lines(cells, name)
    result["edition"] = listed_edition(cells, lines, EDITION)
    for line in lines:
        groups = [[cells.get(place) for place in area_cells(line["sheet"], area)] for area in line["cells"].split()]
        owner, _, keys = line["instances"].partition(": ")
        key = line["key"]
        if not key:
            continue
        groups = [[_shown(value, line["name"]) for value in group] for group in groups]
        if key.endswith(BY_NAME):
            for eye, group in zip(EYES, groups, strict=True):
                names = zip(keys.split(), group, strict=True)
                result[eye][key.removesuffix(BY_NAME)] = [name for name, value in names if str(value).casefold() == YES]
        elif key.endswith("[]"):
            for eye, group in zip(EYES, groups, strict=True):
                result[eye][key.removesuffix("[]")] = group if any(value is not None for value in group) else None
        elif "[]." in key or key in WORD_LISTS:
            owners = EYES if len(groups) == PER_EYE else ("plan",)
            for eye, group in zip(owners, groups, strict=True):
                fields = lists.setdefault((eye, key.partition("[]")[0]), {})
                fields[key.partition("[].")[2] or key] = group
                if key.partition("[]")[0] in NAMED_LISTS:
                    fields["key"] = keys.split()
                    constant.add("key")
            if line["role"] == "constant":
                constant.add(key.partition("[].")[2])
        elif owner == "plan":
            result["plan"][key] = groups[0][0]
        elif owner == "eyes":
            for eye, value in zip(EYES, groups[0], strict=True):
                result[eye][key] = value
        else:
            for eye, group in zip(EYES, groups, strict=True):
                for instance, value in zip(keys.split(), group, strict=True):
                    result[eye][key.replace("*", instance)] = value
    for (eye, key), fields in lists.items():
        result[eye][key] = _objects(fields, constant)
    _join_reasons(result)
    return result


def _objects(fields: dict[str, list[Any]], constant: set[str]) -> list[Any]:
    if len(fields) == 1 and next(iter(fields)) in WORD_LISTS:
        return [value for value in next(iter(fields.values())) if value is not None]
    objects = []
    for values in zip(*fields.values(), strict=True):
        entry: dict[str, Any] = {}
        empty = all(value is None for key, value in zip(fields, values, strict=True) if key not in constant)
        for key, value in zip(fields, values, strict=True):
            part = re.fullmatch(r"(\w+)\[\d+\]", key)
            if part is None:
                entry[key] = value
            else:
                entry.setdefault(part[1], [])
                if value is not None:
                    entry[part[1]].append(value)
        if not empty:
            objects.append(entry)
    return objects


def _join_reasons(result: dict[str, Any]) -> None:
    of_plan = result["plan"].pop("plan_reasons", [])
    result["plan"]["reasons"] = of_plan
    for eye in EYES:
        if "reasons" in result[eye]:
            used = result[eye].get("status") not in ("not used", None)
            result[eye]["reasons"] = (of_plan if used else []) + result[eye]["reasons"]


def _shown(value: Any, name: str) -> Any:
    if name in DATES and isinstance(value, float) and not isinstance(value, bool) and 0 < value < 100000:
        return (DAY_ZERO + datetime.timedelta(days=value)).isoformat()
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value
