"""Reads a workbook's specs, expands inputs, row sets and points, and checks what can be checked before layout."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from builder.spec.check import check_spec
from builder.spec.cited import cited_names
from builder.spec.errors import SpecError, nearest
from builder.spec.inputs import PLAN, input_blocks
from builder.spec.lines import TABLE, line_blocks
from builder.spec.model import (
    EYES,
    Block,
    Chart,
    Constant,
    Input,
    InstanceList,
    Point,
    Row,
    Series,
    Sheet,
    WorkbookSpec,
)
from builder.spec.points import point_blocks, read_points
from builder.spec.proofs import proof_block
from builder.spec.words import ENGLISH, load_words

SPECS = Path(__file__).resolve().parents[2] / "specs"
NAME = re.compile(r"[a-z][a-z0-9_]*")
CELL_LIKE = re.compile(r"[a-z]{1,3}[0-9]+")
ROW_KEYS = {
    "key",
    "kind",
    "unit",
    "decimals",
    "formula",
    "formulas",
    "cells",
    "needs",
    "any_of",
    "echo",
    "style",
    "source",
    "publish",
    "link",
    "use",
    "typed_count",
    "numbered",
    "label",
    "whole",
}
INPUT_KEYS = {
    "key",
    "type",
    "unit",
    "decimals",
    "lowest",
    "highest",
    "show_lowest",
    "show_highest",
    "default",
    "choices",
    "list",
    "conflict",
    "conflict_word",
    "publish",
    "style",
    "needed",
}
BLOCK_KEYS = {
    "key",
    "instances",
    "layout",
    "beside",
    "at",
    "rows",
    "inputs",
    "states",
    "text",
    "titled",
    "shade",
    "compact",
}
HEAD = {"page_line": "title", "page_state": "", "type_next": "next"}  # the frozen lines with their styles


def read_toml(path: Path) -> dict[str, Any]:
    """One spec file; a syntax mistake is told with file and place."""
    try:
        with path.open("rb") as handle:
            return tomllib.load(handle)
    except tomllib.TOMLDecodeError as error:
        raise SpecError(path.name, "syntax", str(error), "Mend the line; TOML wants one inline table a line") from None


def _only(file: str, key: str, table: dict[str, Any], allowed: set[str]) -> None:
    for name in table:
        if name not in allowed:
            raise SpecError(file, key, f"has the unknown entry '{name}'", f"Remove it, or {nearest(name, allowed)}")


def _check_name(file: str, key: str) -> None:
    if not NAME.fullmatch(key) or CELL_LIKE.fullmatch(key) or (len(key) < 6 and "_" not in key):
        raise SpecError(
            file, key, "is not a name", "Use lower-case letters, six or more or with an underscore, unlike a cell"
        )


def _row(file: str, table: dict[str, Any], instances: tuple[str, ...] = ()) -> Row:
    key = table.get("key", "?")
    _only(file, key, table, ROW_KEYS)
    _check_name(file, key)
    if table.get("kind") != "blank" and not any(
        name in table for name in ("formula", "formulas", "cells", "echo", "typed_count", "numbered")
    ):
        raise SpecError(
            file, key, "has neither formula nor cells", "Give one of formula, formulas, cells, echo, numbered"
        )
    values = {name: value for name, value in table.items() if name not in ("use", "typed_count", "numbered")}
    if "numbered" in table:
        values["cells"] = {instance: n for n, instance in enumerate(instances, start=table["numbered"])}
    for name in ("needs", "any_of"):
        if name in values:
            values[name] = tuple(values[name])
    publish = values.pop("publish", "")
    return Row(file=file, publish=publish, **values)


def _row_of_each(file: str, table: dict[str, Any], each: str, instances: tuple[str, ...]) -> Row:
    """A row of a row set; used for several keys, `#` stands for the key in names and formulas."""
    if not each:
        return _row(file, table, instances)

    def put(value: Any) -> Any:
        if isinstance(value, str):
            return value.replace("#", each)
        if isinstance(value, dict):
            return {name: put(part) for name, part in value.items()}
        return [put(part) for part in value] if isinstance(value, list) else value

    return replace(_row(file, put(table), instances), label=table["key"].replace("#", "each"), of=each)


def _input(file: str, block: str, table: dict[str, Any], choices: dict[str, list[str]]) -> Input:
    key = table.get("key", "?")
    _only(file, key, table, INPUT_KEYS)
    _check_name(file, key)
    values = dict(table)
    if "choices" in values:
        if values["choices"] not in choices:
            raise SpecError(
                file, key, f"names the unknown choices '{values['choices']}'", nearest(values["choices"], choices)
            )
        values["choices"] = tuple(choices[values["choices"]])
    return Input(block=block, file=file, **values)


def _lists(folder: Path, lengths: Mapping[str, int]) -> dict[str, InstanceList]:
    lists = {"plan": PLAN, "eyes": InstanceList("eyes", "eyes", EYES)}
    for name, table in read_toml(folder / "instances.toml").items():
        if table.get("per") not in ("plan", "eye", *EYES):
            raise SpecError("instances.toml", name, "has no owner", 'Say per = "plan", "eye", "right" or "left"')
        count = lengths.get(name, table.get("count", 0))
        keys = table["keys"] if "keys" in table else [f"{table['prefix']}{n}" for n in range(1, count + 1)]
        lists[name] = InstanceList(name, table["per"], tuple(keys), table.get("apart", False), table.get("long", False))
    return lists


def load_workbook_spec(
    name: str = "plan", language: str = ENGLISH, specs: Path = SPECS, lengths: Mapping[str, int] | None = None
) -> WorkbookSpec:
    """The checked spec of one workbook; `lengths`: other lengths of its long lists.

    Raises SpecError with file and key at the first mistake.
    """
    folder = specs / name
    words = load_words(name, language, specs)
    choices = read_toml(folder / "choices.toml")
    lists = _lists(folder, lengths or {})
    constants = {}
    for table in read_toml(specs / "clinical" / "constants.toml")["constant"]:
        _check_name("constants.toml", table["key"])
        value = table["value"]
        decimals = len(f"{value:.9g}".partition(".")[2]) if abs(value) >= 1e-6 else 9  # shown, never computed with
        constants[table["key"]] = Constant(decimals=decimals, **table)
    sheets: list[Sheet] = []
    points: tuple[Point, ...] = ()
    inputs: list[Input] = []
    kept: list[Block] = []
    pending: list[tuple[Path, dict[str, Any]]] = []
    files = sorted(path for path in folder.glob("[0-9]*.toml"))
    for path in files:
        table = read_toml(path)
        pending.append((path, table))
        for entry in table.get("block", []):
            for item in entry.get("inputs", []):
                inputs.append(_input(path.name, entry["key"], item, choices))
    for path, table in pending:
        for eye in EYES if table.get("per_eye") else ("",):
            key = "_".join(part for part in (table["key"], eye) if part)
            blocks = [_head(path.name, key, ("page_line",) if eye else tuple(HEAD))]
            for entry in table.get("block", []):
                on_sheet, elsewhere = _blocks(path.name, entry, eye, lists, inputs, pending)
                blocks += on_sheet
                kept += elsewhere
            if "point" in table:
                points = read_points(path.name, table, inputs, _own_lists(pending, lists), _leads(pending))
                made, point_lists = point_blocks(path.name, points)
                lists.update(point_lists)
                blocks += made
            if "check" in table:
                proof, checks = proof_block(path.name, table["check"])
                lists[checks.name] = checks
                blocks.insert(2, proof)  # below the frozen lines and the verdict
            sheets.append(
                Sheet(
                    key=key,
                    file=path.name,
                    columns=tuple(table["columns"]),
                    landscape=table.get("landscape", False),
                    blocks=tuple(blocks),
                    generated=table.get("generated", ""),
                    charts=tuple(_chart(path.name, entry) for entry in table.get("chart", [])),
                    eye=eye,
                    across=table.get("across", 1),
                    frozen=tuple(table["frozen"]) if "frozen" in table else None,
                )
            )
    tables = tuple(block for block in kept if block.instances.name == TABLE)
    generated = {"used": tuple(block for block in kept if block not in tables), "columns": tables}
    sheets = [replace(s, blocks=generated.get(s.generated, ()) + s.blocks) for s in sheets]
    cited = cited_names((block for sheet in sheets for block in sheet.blocks), inputs)
    constants = {key: constant for key, constant in constants.items() if key in cited}
    edition = read_toml(folder / "changes.toml")
    spec = WorkbookSpec(
        name=name,
        sheets=tuple(sheets),
        lists=lists,
        constants=constants,
        sources=tuple(read_toml(specs / "clinical" / "sources.toml")["source"]),
        changes=tuple(edition["change"]),
        words=words,
        inputs=tuple(inputs),
        version=edition["version"],
        styles=read_toml(specs / "styles.toml"),
        points=points,
        language=language,
    )
    check_spec(spec)
    return spec


def _blocks(
    file: str,
    entry: dict[str, Any],
    eye: str,
    lists: dict[str, InstanceList],
    inputs: list[Input],
    pending: list[tuple[Path, dict[str, Any]]],
) -> tuple[list[Block], list[Block]]:
    """One entry of a sheet as blocks: those of the sheet, and those that its inputs leave on the sheet of used values.

    On a sheet that exists once for each eye, the list "page" is the eye's own, a block's key ends in the eye, and
    {eye} in a style is the eye.
    """
    _only(file, entry.get("key", "?"), entry, BLOCK_KEYS)
    ending = f"_{eye}" if eye else ""
    name = entry["instances"] + (ending if entry["instances"] == "page" else "")
    if name not in lists:
        raise SpecError(file, entry["key"], f"names the unknown list '{name}'", nearest(name, lists))
    block = Block(
        key=entry["key"] + ending,
        file=file,
        instances=lists[name],
        layout=entry.get("layout", "across"),
        beside=entry["beside"] + ending if "beside" in entry else None,
        at=entry.get("at", 0),
        text=tuple(entry.get("text", ())),
        titled=entry.get("titled", "beside" not in entry),
        shade=tuple(entry.get("shade", ())),
    )
    rows: list[Row] = []
    for item in entry.get("rows", []):
        if "use" in item:
            rowset = next((s for _, t in pending for s in t.get("rowset", []) if s["key"] == item["use"]), None)
            if rowset is None:
                raise SpecError(file, block.key, f"uses the unknown row set '{item['use']}'", "Name a [[rowset]]")
            publish = item.get("publish", {})
            for each in item.get("each", ("",)):
                made = (_row_of_each(file, r, each, block.instances.keys) for r in rowset["rows"])
                rows += [replace(row, publish=publish.get(row.key, "")) for row in made]
        elif item.get("typed_count"):
            rows.append(_typed_count(file, item["key"], inputs, pending))
        else:
            rows.append(_row(file, item, block.instances.keys))
    if eye:
        keys = block.instances.keys
        rows = [
            replace(
                row,
                cells={key: value for key, value in row.cells.items() if key in keys},
                style=row.style.replace("{eye}", eye),
            )
            for row in rows
        ]
    block = replace(block, rows=tuple(rows))
    if "inputs" not in entry:
        return [block], []
    own = tuple(item for item in inputs if item.block == block.key)
    if entry.get("compact"):
        typed, used, columns = line_blocks(block, own)
        lists[TABLE] = columns.instances
        return [typed], [used, columns]
    return input_blocks(block, own, entry.get("states") == "below")


def _chart(file: str, table: dict[str, Any]) -> Chart:
    try:
        series = tuple(Series(**entry) for entry in table["series"])
        limits = {name: tuple(table.get(name, ())) for name in ("across_limits", "up_limits")}
        return Chart(**{**table, "series": series, **limits})
    except (TypeError, KeyError) as error:
        raise SpecError(file, table.get("key", "?"), f"is no chart: {error}", "Mend or remove the entry") from None


def _head(file: str, sheet: str, keys: tuple[str, ...]) -> Block:
    """The frozen lines of a sheet: file and edition, state of the eyes, what to type next."""
    rows = tuple(
        Row(key=f"{sheet}_{key}", file=file, kind="word", echo=key, style=HEAD[key], label=key) for key in keys
    )
    return Block(key=f"{sheet}_head", file=file, instances=PLAN, rows=rows, titled=False, pinned=True)


def _own_lists(pending: list[tuple[Path, dict[str, Any]]], lists: dict[str, InstanceList]) -> dict[str, InstanceList]:
    """The list over which each group of inputs is typed, by block key."""
    return {e["key"]: lists[e["instances"]] for _, t in pending for e in t.get("block", []) if "inputs" in e}


def _leads(pending: list[tuple[Path, dict[str, Any]]]) -> dict[str, str]:
    """The row that leads the lines of a group of inputs that is typed as a list."""
    return {
        e["key"]: e["rows"][0]["key"] for _, t in pending for e in t.get("block", []) if "inputs" in e and e.get("rows")
    }


def _typed_count(file: str, key: str, inputs: list[Input], pending: list[tuple[Path, dict[str, Any]]]) -> Row:
    """How many cells of an eye are typed: those in use and those refused."""
    groups = [e["key"] for _, t in pending for e in t.get("block", []) if "inputs" in e and e["instances"] == "eyes"]
    terms = [f"COUNTIF(rows.{group}_state,word.used)+SUM(rows.{group}_refused)" for group in groups]
    listed = {e["key"] for _, t in pending for e in t.get("block", []) if "inputs" in e and e.get("layout") == "down"}
    terms += [f"COUNTIF(state_{i.key},word.used)+SUM(refused_{i.key})" for i in inputs if i.block in listed]
    return Row(key=key, file=file, decimals=0, formula="+".join(terms), needs=())
