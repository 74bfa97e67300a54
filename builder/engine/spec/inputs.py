"""Turns an input into its rows: the typed cell, its state in words, the used value, the refusal flag, the limits.

The plain name is the USED value. Only the judge reads the typed cell (`typed_<key>`), so nothing typed reaches a
calculation unless it is of the right kind, inside its hard limits and in no contradiction.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from builder.engine.spec.errors import SpecError
from builder.engine.spec.lists import PLAN, InstanceList
from builder.engine.spec.model import Block, Input, Row
from builder.engine.spec.texts import closed
from builder.engine.spec.tokens import rename

LOOKED_UP = ("choice", "listed")
OFFERED = "offered"  # the list of the cells that hold the choices of every drop-down


def _limit(item: Input, end: str) -> str:
    value = getattr(item, end)
    return value if isinstance(value, str) else f"{end}_{item.key}"


def _inside(item: Input, typed: str, low: str, high: str, slack: str) -> str:
    """Whether a number is within its limits: with slack, for programs round what they compare, but not with 0."""
    below, above = ("" if end == 0 else slack for end in (item.lowest, item.highest))
    return f"AND({typed}>={low}{below and '-' + below},{typed}<={high}{above and '+' + above})"


def _judge(item: Input, typed: str, empty: str, slack: str) -> str:
    """The judge of design: error, logical, text, blank, number, in this order, the same in every engine."""
    text, number = "word.text_value", "word.number_value"
    if item.type in ("number", "date"):
        low, high = _limit(item, "lowest"), _limit(item, "highest")
        inside, used = _inside(item, typed, low, high, slack), "word.used"
        if item.type == "date":  # a number that is not inside may be too large to be rounded
            used = f"IF({typed}=ROUND({typed},0),word.used,word.out_of_limits)"
        outside = f"outside_{item.key}" if item.thousandths else "word.out_of_limits"
        number = f"IF({inside},{used},{outside})"
        if item.awaits:
            number = f"IF(COUNT({','.join(item.awaits)})<{len(item.awaits)},word.waits_for_unit,{number})"
    elif item.type in LOOKED_UP:  # a search may take * and ? for any letters: what it found is compared
        text = f"IF(UPPER(INDEX({item.list},1,MAX(place_{item.key},1)))=UPPER({typed}),word.used,word.unlisted)"
    else:
        inside = f"LEN({typed})<=highest_{item.key}"
        text = f"IF(LEN(TRIM({typed}))=0,word.only_spaces,IF({inside},word.used,word.too_long))"
        if item.type == "identifier":
            inside = f"AND({typed}=ROUND({typed},0),{typed}>0,{typed}<1000*1000*1000)"
            number = f"IF({inside},word.used,word.number_value)"
    judged = f"IF(LEN({typed})=0,{empty},IF(ISTEXT({typed}),{text},{number}))"
    return f"IF(ISERROR({typed}),word.error_value,IF(ISLOGICAL({typed}),word.logical_value,{judged}))"


def _outside(item: Input, typed: str, slack: str) -> str:
    """What is said of a number out of limits: it may be in thousandths of the unit, as some devices print."""
    low, high = (f"1000*{_limit(item, end)}" for end in ("lowest", "highest"))
    inside = _inside(item, typed, low, high, slack)
    said = f'IF(ISNUMBER({typed}),IF({inside},word.{item.thousandths},word.out_of_limits),"")'
    return f'IF(ISLOGICAL({typed}),"",IF(ISTEXT({typed}),"",{said}))'  # both may be numbers to a program


def _place(item: Input, typed: str) -> str:
    """Where a search finds what is typed in the list of the choices, counted from 1; 0: nowhere."""
    found = f"MATCH({typed},{item.list},0)"
    return f"IF(ISTEXT({typed}),IF(ISNUMBER({found}),SIGN(LEN({typed}))*{found},0),0)"


def _used(item: Input, typed: str, empty: str) -> str:
    value = f"state_{item.key}"
    if item.type in LOOKED_UP:
        shown = f"INDEX({item.list},1,place_{item.key})"
    elif item.type in ("text", "name"):
        shown = closed(typed)
    else:
        shown = typed
    default = f'IF({value}=word.default_used,{empty},"")' if empty else '""'
    return f"IF({value}=word.used,{shown},{default})"


def input_blocks(block: Block, inputs: tuple[Input, ...], below: bool, slack: str) -> tuple[list[Block], list[Block]]:
    """The blocks of an entry sheet, and those of the sheet of used values, for one group of inputs."""
    made = [_rows_of(item, slack) for item in inputs]
    typed, states, used, refused = (
        tuple(rows[name] for rows in made) for name in ("typed", "state", "used", "refused")
    )
    pairs = tuple(row for rows in made for row in rows["pairs"])
    place = _down if block.layout == "down" else _across
    entry, kept = place(block, inputs, typed, states, used, refused, below)
    places = tuple(rows[name] for rows in made for name in ("place", "outside") if rows[name])
    if places:
        aside: dict[str, Any] = {"titled": False, "show_unit": False, "layout": block.layout}
        kept.append(Block(f"{block.key}_places", block.file, block.instances, places, **aside))
    if pairs:
        kept.append(
            Block(key=f"{block.key}_pairs", file=block.file, instances=block.instances, rows=pairs, show_unit=False)
        )
    return entry, kept


def _rows_of(item: Input, slack: str) -> dict[str, Any]:
    """Everything that an input becomes, by role."""
    name, kind = item.key, "word" if item.is_word else "number"
    plain: dict[str, Any] = {"file": item.file, "guarded": False}
    empty = "word.default_used" if item.default else '""'
    judge = _judge(item, f"typed_{name}", empty, slack)
    pairs = []
    if item.conflict:
        if not item.conflict_word:
            raise SpecError(item.file, name, "has a conflict without a conflict_word", "Name the word that says it")
        taken = closed(f"typed_{name}") if item.type == "text" else f"typed_{name}"
        accepted = f'IF(judged_{name}=word.used,{taken},"")'
        condition = rename(item.conflict.replace(f"all.{name}", f"all.accepted_{name}"), name, f"accepted_{name}")
        pairs = [
            Row(key=f"judged_{name}", kind="word", formula=judge, **plain),
            Row(key=f"accepted_{name}", kind=kind, decimals=item.decimals, formula=accepted, **plain),
            Row(key=f"conflict_{name}", decimals=0, file=item.file, formula=f"IF({condition},1,0)"),
        ]
        told = f"IF(conflict_{name}=1,word.{item.conflict_word},judged_{name})"
        judge = f"IF(COUNT(conflict_{name})=1,{told},judged_{name})"
    fine = f"OR(LEN(state_{name})=0,state_{name}=word.used,state_{name}=word.default_used)"
    number: dict[str, Any] = {"unit": item.unit, "decimals": item.decimals}
    return {
        "typed": Row(
            key=f"typed_{name}",
            file=item.file,
            kind=kind,
            input=item,
            publish=item.publish or name,
            style=f"{item.style} typed".strip(),
            **number,
        ),
        "state": Row(key=f"state_{name}", kind="word", formula=judge, style="judgement", **plain),
        "used": Row(
            key=name,
            kind=kind,
            formula=_used(item, f"typed_{name}", item.default or ""),
            style=item.style,
            **number,
            **plain,
        ),
        "refused": Row(key=f"refused_{name}", decimals=0, formula=f"IF({fine},0,1)", **plain),
        "pairs": pairs,
        "place": Row(key=f"place_{name}", decimals=0, formula=_place(item, f"typed_{name}"), judges=True, **plain)
        if item.type in LOOKED_UP
        else None,
        "outside": Row(
            key=f"outside_{name}", kind="word", formula=_outside(item, f"typed_{name}", slack), judges=True, **plain
        )
        if item.thousandths
        else None,
    }


def offered_block(choices: Mapping[str, Sequence[str]], inputs: Iterable[Input]) -> tuple[Block, InstanceList]:
    """What each drop-down offers, a line each; the label is that of the first input that has it."""
    rows: dict[str, Row] = {}
    width = max((len(keys) for keys in choices.values()), default=0)
    offered = InstanceList(OFFERED, "plan", tuple(f"choice{n}" for n in range(1, width + 1)))
    for item in inputs:
        key = (item.list or "").removeprefix("fixed.")
        if item.type == "choice" and key not in rows:
            words = [f"choice.{choice}" for choice in item.choices] + [""] * (width - len(item.choices))
            cells = dict(zip(offered.keys, words, strict=True))
            rows[key] = Row(key=key, file="choices.toml", kind="word", cells=cells, label=item.key)
    return Block("choices_offered", "choices.toml", offered, tuple(rows.values()), show_unit=False), offered


def _limit_row(item: Input, end: str) -> Row:
    value, show = getattr(item, end), getattr(item, f"show_{end}")
    key = f"{end}_{item.key}"
    style = f"{item.style} limit".strip()
    if isinstance(value, str):
        return Row(key=key, file=item.file, decimals=item.decimals, echo=show or value, style=style)
    if value is None:
        return Row(key=key, file=item.file, kind="blank")
    return Row(key=key, file=item.file, decimals=item.decimals, cells={"plan": value}, unit=item.unit, style=style)


Rows = tuple[Row, ...]


def _across(
    block: Block, inputs: tuple[Input, ...], typed: Rows, states: Rows, used: Rows, refused: Rows, below: bool
) -> tuple[list[Block], list[Block]]:
    """A line an input: label, cells, unit, from, to, states; used values and refusals on the other sheet."""
    same: dict[str, Any] = {"file": block.file, "instances": block.instances}
    width = max(len(block.instances.keys), 2)
    low, high = (tuple(_limit_row(item, end) for item in inputs) for end in ("lowest", "highest"))
    limit: dict[str, Any] = {
        "file": block.file,
        "instances": PLAN,
        "beside": block.key,
        "titled": False,
        "show_unit": False,
    }
    aside: dict[str, Any] = {"beside": None, "at": 0} if below else {"beside": block.key, "at": width + 4}
    entry = [
        replace(block, rows=typed),
        Block(key=f"{block.key}_from", rows=low, at=width + 2, **limit),
        Block(key=f"{block.key}_to", rows=high, at=width + 3, **limit),
        Block(key=f"{block.key}_state", rows=states, titled=below, show_unit=False, **aside, **same),
    ]
    aside = {"beside": None, "at": 0} if below else {"beside": f"{block.key}_used", "at": width + 2}
    kept = [
        Block(key=f"{block.key}_used", rows=used, **same),
        Block(key=f"{block.key}_refused", rows=refused, titled=below, show_unit=False, **aside, **same),
    ]
    return entry, kept


def _down(
    block: Block, inputs: tuple[Input, ...], typed: Rows, states: Rows, used: Rows, refused: Rows, below: bool
) -> tuple[list[Block], list[Block]]:
    """A column an input, a line an instance: the block's own rows lead, the states stand beside."""
    del below
    same: dict[str, Any] = {"file": block.file, "instances": block.instances, "layout": "down"}
    lead = block.rows[0]
    again = Row(key=f"{lead.key}_again", file=block.file, decimals=0, echo=lead.key, label=lead.key)
    aside = len(inputs) + 2
    own = [item for item in inputs if item.type not in LOOKED_UP]
    numbers = [item for item in own if not isinstance(item.lowest, str) or not isinstance(item.highest, str)]
    limits = tuple(_limit_row(item, end) for item in numbers for end in ("lowest", "highest"))
    entry = [
        replace(block, rows=block.rows + typed),
        Block(key=f"{block.key}_state", rows=states, beside=block.key, at=aside, titled=False, **same),
    ]
    kept = [
        Block(key=f"{block.key}_used", rows=(again, *used), **same),
        Block(key=f"{block.key}_refused", rows=refused, beside=f"{block.key}_used", at=aside, titled=False, **same),
    ]
    if limits:
        kept.append(Block(key=f"{block.key}_limits", file=block.file, instances=PLAN, rows=limits))
    return entry, kept
