"""Turns the inputs of a long list of lines into one typed and one used cell each.

Five hundred lines of forty-five columns have no room for a word beside each cell. The used cell holds the value, or
the word for what is wrong with it, or nothing: a guard counts numbers, so a word never reaches a calculation. What
may stand in a column is written once, in the table of the columns, and every line is judged by it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from builder.engine.spec.errors import SpecError
from builder.engine.spec.lists import GENERATED, WHOLE, InstanceList
from builder.engine.spec.model import Block, Input, Part, Row

TABLE = GENERATED


def _fine(item: Input, typed: str) -> str:
    """What the used cell shows of a typed cell that is no error, no blank and of the right kind."""
    if item.type in ("number", "date"):
        inside = f"{typed}>={item.key}.column_lowest,{typed}<={item.key}.column_highest"
        if item.type == "date":
            inside += f",{typed}=ROUND({typed},0)"
        return f"IF(AND({inside}),{typed},word.out_of_limits)"
    if item.type == "listed":
        place = f"MATCH({typed},{item.list},0)"
        found = f"UPPER(INDEX({item.list},{place},1))=UPPER({typed})"
        return f"IF(ISNUMBER({place}),IF({found},{place},word.unlisted),word.unlisted)"
    inside = f"LEN({typed})<={item.key}.column_highest"  # as it is: what compares it takes its spaces out
    return f"IF(LEN(TRIM({typed}))=0,word.only_spaces,IF({inside},{typed},word.too_long))"


def _used(item: Input, filled: str) -> str:
    typed = f"typed_{item.key}"
    empty = f'IF({filled}=1,word.missing,"")' if item.needed else '""'
    head = f"IF(ISERROR({typed}),word.error_value,IF(ISLOGICAL({typed}),word.logical_value,"
    if item.type in ("number", "date"):
        return f"{head}IF(LEN({typed})=0,{empty},IF(ISTEXT({typed}),word.text_value,{_fine(item, typed)}))))"
    number = "word.number_value"
    if item.type == "identifier":
        number = f"IF(AND({typed}=ROUND({typed},0),{typed}>0,{typed}<1000*1000*1000),{typed},word.number_value)"
    return f"{head}IF(LEN({typed})=0,{empty},IF(ISTEXT({typed}),{_fine(item, typed)},{number}))))"


def _unit(item: Input) -> str:
    unit = item.unit or {"text": "letters", "identifier": "letters", "date": "day number"}.get(item.type, "")
    return f"unit.{unit}" if unit else ""


def line_blocks(block: Block, inputs: tuple[Input, ...], filled: str) -> tuple[Block, Block, Block]:
    """The typed lines, the used lines, and the table of the columns.

    `filled`: the row that says whether anything is typed in a line, 1 or 0.
    """
    typed, used = [], []
    for item in inputs:
        if item.default or item.conflict or item.choices:
            raise SpecError(
                item.file, item.key, "has what a line cannot have", "Use neither default, conflict, choices"
            )
        plain: dict[str, Any] = {"file": item.file, "unit": item.unit, "decimals": item.decimals}
        coded = item.is_word and item.type != "listed"
        typed.append(
            Row(
                key=f"typed_{item.key}",
                kind="word" if item.is_word else "number",
                input=item,
                publish=item.publish or item.key,
                style=f"{item.style} typed".strip(),
                part=Part("typed", item),
                **plain,
            )
        )
        used.append(
            Row(
                key=item.key,
                kind="word" if coded else "number",
                formula=_used(item, filled),
                guarded=False,
                judges=True,
                style=item.style,
                part=Part("used", item),
                **plain,
            )
        )
    entry = replace(block, rows=tuple(typed))
    kept = replace(block, key=f"{block.key}_used", rows=tuple(used), beside=None, at=0, titled=True, title=block.key)
    return entry, kept, _table(block, inputs)


def _table(block: Block, inputs: tuple[Input, ...]) -> Block:
    """What each column holds: its name, key, unit, limits, and whether a line needs it."""
    instances = InstanceList(TABLE, WHOLE, tuple(item.key for item in inputs))

    def row(key: str, kind: str, decimals: int, values: dict[str, object]) -> Row:
        return Row(key=key, file=block.file, kind=kind, decimals=decimals, cells=values)

    def limits(end: str) -> Row:
        values = {item.key: getattr(item, end) for item in inputs}
        cells = {key: value for key, value in values.items() if not isinstance(value, str) and value is not None}
        named = {key: value for key, value in values.items() if isinstance(value, str)}
        empty = {key: "" for key, value in values.items() if value is None}
        return Row(key=f"column_{end}", file=block.file, decimals=2, cells=cells | empty, formulas=named, style="limit")

    return Block(
        key=f"{block.key}_columns",
        file=block.file,
        instances=instances,
        layout="down",
        rows=(
            row("column_number", "number", 0, {item.key: n for n, item in enumerate(inputs, start=1)}),
            row("column_name", "word", 0, {item.key: f"label.{item.key}" for item in inputs}),
            row("column_key", "word", 0, {item.key: f"={item.publish or item.key}" for item in inputs}),
            row("column_unit", "word", 0, {item.key: _unit(item) for item in inputs}),
            limits("lowest"),
            limits("highest"),
            row("column_needed", "word", 0, {i.key: f"word.column_{'must' if i.needed else 'may'}" for i in inputs}),
        ),
    )
