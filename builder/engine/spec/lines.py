"""Turns the inputs of a long list of lines into one typed and one used cell each.

Five hundred lines of forty-five columns have no room for a word beside each cell. The used cell holds the value, or
the word for what is wrong with it, or nothing: a guard counts numbers, so a word never reaches a calculation. What
may stand in a column is written once, in the table of the columns, and every line is judged by it. What a search
finds of a listed word, and whether a number is fit to be a name, stands beside the used cells.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from builder.engine.spec.decisions import Decision
from builder.engine.spec.errors import SpecError
from builder.engine.spec.lists import GENERATED, WHOLE, InstanceList
from builder.engine.spec.model import Block, Input, Part, Row

TABLE = GENERATED
LACKS = "line_lacks"  # what an empty cell that a line needs is told: the word for it, nothing in an empty line


def _fine(item: Input, typed: str) -> str:
    """What the used cell shows of a typed cell that is no error, no blank and of the right kind."""
    lowest, highest = (f"{item.key}.column_{end}" for end in ("lowest", "highest"))
    if item.type == "date":  # a whole number
        return f"IF({typed}=ROUND(MAX({lowest},MIN({highest},{typed})),0),{typed},word.out_of_limits)"
    if item.type == "number":
        return f"IF(AND({typed}>={lowest},{typed}<={highest}),{typed},word.out_of_limits)"
    if item.type == "listed":  # a search may take * and ? for any letters: what it found is compared
        place = f"place_{item.key}"
        return f"IF(UPPER(INDEX({item.list},{place},1))=UPPER({typed}),{place},word.unlisted)"
    inside = f"LEN({typed})<={highest}"  # as it is: what compares it takes its spaces out
    return f"IF(LEN(TRIM({typed}))=0,word.only_spaces,IF({inside},{typed},word.too_long))"


def _used(item: Input) -> str:
    typed = f"typed_{item.key}"
    empty = LACKS if item.needed else '""'
    if item.type in ("number", "date"):
        judged = f"IF(ISTEXT({typed}),word.text_value,{_fine(item, typed)})"
    elif item.type == "listed":
        judged = f"IF(place_{item.key}=0,word.number_value,{_fine(item, typed)})"
    else:
        number = f"judged_{item.key}" if item.type == "identifier" else "word.number_value"
        judged = f"IF(ISTEXT({typed}),{_fine(item, typed)},{number})"
    known = f"IF(LEN({typed})=0,{empty},{judged})"
    return f"IF(ISERROR({typed}),word.error_value,IF(ISLOGICAL({typed}),word.logical_value,{known}))"


def _aside(item: Input, plain: Mapping[str, Any]) -> Iterator[Row]:
    """What a column is judged by beside its table: the place of a word in its list, a number that is a name."""
    typed = f"typed_{item.key}"
    if item.type == "listed":  # 0: no word; of one that is nowhere, the first place, where it is not
        found = f"MATCH({typed},{item.list},0)"
        formula = f"IF(ISTEXT({typed}),IF(ISNUMBER({found}),{found},SIGN(LEN({typed}))),0)"
        yield Row(key=f"place_{item.key}", decimals=0, formula=formula, part=Part("place", item), **plain)
    if item.type == "identifier":
        whole = f"AND({typed}=ROUND({typed},0),{typed}>0,{typed}<1000*1000*1000)"
        formula = f'IF(AND(ISNUMBER({typed}),NOT(ISLOGICAL({typed}))),IF({whole},{typed},word.number_value),"")'
        yield Row(key=f"judged_{item.key}", kind="word", formula=formula, part=Part("judged", item), **plain)


def _unit(item: Input) -> str:
    unit = item.unit or {"text": "letters", "identifier": "letters", "date": "day number"}.get(item.type, "")
    return f"unit.{unit}" if unit else ""


def line_blocks(block: Block, inputs: tuple[Input, ...], filled: str) -> tuple[Block, Block, Block, Block]:
    """The typed lines, the used lines, what stands beside these, and the table of the columns.

    `filled`: the row that says whether anything is typed in a line, 1 or 0.
    """
    judges: dict[str, Any] = {"file": block.file, "guarded": False, "judges": True}
    typed, used = [], []
    lacks = Decision(((filled, "word.missing"),))
    aside = [Row(key=LACKS, kind="word", formula=lacks.formula(), decision=lacks, **judges)]
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
                formula=_used(item),
                style=item.style,
                part=Part("used", item),
                **plain | judges,
            )
        )
        aside += _aside(item, judges)
    entry = replace(block, rows=tuple(typed))
    kept = replace(block, key=f"{block.key}_used", rows=tuple(used), beside=None, at=0, titled=True, title=block.key)
    beside = replace(kept, key=f"{block.key}_aside", rows=tuple(aside), beside=kept.key, at=len(used), titled=False)
    return entry, kept, beside, _table(block, inputs)


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
