"""Turns the list of checks into the table of proof: what an example computes beside what it should be."""

from __future__ import annotations

from typing import Any

from builder.engine.spec.errors import SpecError
from builder.engine.spec.lists import WHOLE, InstanceList
from builder.engine.spec.model import Block, Row

CHECKS = "checks"


def proof_block(file: str, table: list[dict[str, Any]], slack: str) -> tuple[Block, InstanceList]:
    """The table and its list, one line a check. Raises SpecError for one that is there twice.

    An entry has `of` (the cell it checks, `example.row`), `expected`, `digit` (the last printed one; half of it is
    allowed), `kind` (how honest that is), `source`, `unit`.
    """
    keys = []
    for entry in table:
        key = entry["of"].replace(".", "_")
        if key in keys:
            raise SpecError(file, key, "is checked twice", "Remove one")
        keys.append(key)
    owner = InstanceList(CHECKS, WHOLE, tuple(keys), apart=True)

    def cells(content: Any) -> dict[str, Any]:
        return {key: content(entry) for key, entry in zip(keys, table, strict=True)}

    fixed: dict[str, Any] = {"file": file}
    word: dict[str, Any] = {"file": file, "kind": "word"}
    allowed = f"check_allowed+{slack}" if slack else "check_allowed"
    agrees = f"IF(check_difference<={allowed},word.proof_yes,word.proof_no)"
    rows = (
        Row(key="check_quantity", cells=cells(lambda e: f"label.{e['of'].rpartition('.')[2]}"), **word),
        Row(key="check_example", cells=cells(lambda e: f"word.example_{e['of'].partition('.')[0]}"), **word),
        Row(key="check_computed", decimals=4, formulas=cells(lambda e: e["of"]), **fixed),
        Row(key="check_expected", decimals=4, cells=cells(lambda e: e["expected"]), **fixed),
        Row(key="check_unit", cells=cells(lambda e: f"unit.{e['unit']}" if e["unit"] else ""), style="unit", **word),
        Row(key="check_difference", decimals=5, formula="ABS(check_computed-check_expected)", steady=13, **fixed),
        Row(key="check_allowed", decimals=5, cells=cells(lambda e: e["digit"] / 2), **fixed),
        Row(key="check_agrees", formula=agrees, **word),
        Row(key="check_kind", cells=cells(lambda e: f"word.kind_{e['kind']}"), style="small", **word),
        Row(key="check_source", cells=cells(lambda e: f"word.cite_{e['source']}"), style="small", **word),
    )
    return Block(key=CHECKS, file=file, instances=owner, layout="down", rows=rows, told_by="instance"), owner
