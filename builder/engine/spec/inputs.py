"""Turns an input into its rows: the typed cell, its state in words, the used value, the refusal flag, the limits.

The plain name is the USED value. Only the judge reads the typed cell (`typed_<key>`), so nothing typed reaches a
calculation unless it is of the right kind, inside its hard limits and in no contradiction.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from builder.engine.spec.errors import SpecError
from builder.engine.spec.judging import (
    LOOKED_UP,
    judge_formula,
    number_formula,
    outside_formula,
    place_formula,
    used_formula,
)
from builder.engine.spec.lists import WHOLE, InstanceList
from builder.engine.spec.model import Block, Input, Part, Row
from builder.engine.spec.texts import closed
from builder.engine.spec.tokens import rename

OFFERED = "offered"  # the list of the cells that hold the choices of every drop-down


def input_blocks(
    block: Block, inputs: tuple[Input, ...], below: bool, slack: str, once: InstanceList
) -> tuple[list[Block], list[Block]]:
    """The blocks of an entry sheet, and those of the sheet of used values, for one group of inputs."""
    made = [_rows_of(item, slack) for item in inputs]
    own = _Own(*(tuple(rows[name] for rows in made) for name in ("typed", "state", "used", "refused")))
    pairs = tuple(row for rows in made for row in rows["pairs"])
    down = block.layout == "down"
    entry, kept = _down(block, inputs, own, once) if down else _across(block, inputs, own, below, once)
    places = tuple(rows[name] for rows in made for name in ("place", "outside", "number") if rows[name])
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
    judge = judge_formula(item, f"typed_{name}", empty, slack)
    pairs = []
    if item.conflict:
        if not item.conflict_word:
            raise SpecError(item.file, name, "has a conflict without a conflict_word", "Name the word that says it")
        taken = closed(f"typed_{name}") if item.type == "text" else f"typed_{name}"
        accepted = f'IF(judged_{name}=word.used,{taken},"")'
        condition = rename(item.conflict.replace(f"all.{name}", f"all.accepted_{name}"), name, f"accepted_{name}")
        pairs = [
            Row(key=f"judged_{name}", kind="word", formula=judge, judges=True, part=Part("judged", item), **plain),
            Row(
                key=f"accepted_{name}",
                kind=kind,
                decimals=item.decimals,
                formula=accepted,
                part=Part("accepted", item),
                **plain,
            ),
            Row(key=f"conflict_{name}", decimals=0, file=item.file, formula=f"IF({condition},1,0)"),
        ]
        told = f"IF(conflict_{name}=1,word.{item.conflict_word},judged_{name})"
        judge = f"IF(COUNT(conflict_{name})=1,{told},judged_{name})"
    place = place_formula(item, f"typed_{name}") if item.type in LOOKED_UP else ""
    awaiting = number_formula(item, f"typed_{name}", slack) if item.awaits or item.type == "identifier" else ""
    outside = outside_formula(item, f"typed_{name}", slack) if item.thousandths else ""
    fine = f"OR(LEN(state_{name})=0,state_{name}=word.used,state_{name}=word.default_used)"
    number: dict[str, Any] = {"unit": item.unit, "decimals": item.decimals}
    return {
        "typed": Row(
            key=f"typed_{name}",
            file=item.file,
            kind=kind,
            input=item,
            part=Part("typed", item),
            publish=item.publish or name,
            style=f"{item.style} typed".strip(),
            **number,
        ),
        "state": Row(
            key=f"state_{name}",
            kind="word",
            formula=judge,
            style="judgement",
            judges=True,
            part=Part("state", item),
            **plain,
        ),
        "used": Row(
            key=name,
            kind=kind,
            formula=used_formula(item, f"typed_{name}", item.default or ""),
            style=item.style,
            part=Part("used", item),
            **number,
            **plain,
        ),
        "refused": Row(key=f"refused_{name}", decimals=0, formula=f"IF({fine},0,1)", **plain),
        "pairs": pairs,
        "place": Row(f"place_{name}", decimals=0, formula=place, judges=True, **plain) if place else None,
        "outside": Row(f"outside_{name}", kind="word", formula=outside, judges=True, **plain) if outside else None,
        "number": Row(f"number_{name}", kind="word", formula=awaiting, judges=True, **plain) if awaiting else None,
    }


def offered_block(choices: Mapping[str, Sequence[str]], inputs: Iterable[Input]) -> tuple[Block, InstanceList]:
    """What each drop-down offers, a line each; the label is that of the first input that has it."""
    rows: dict[str, Row] = {}
    width = max((len(keys) for keys in choices.values()), default=0)
    offered = InstanceList(OFFERED, WHOLE, tuple(f"choice{n}" for n in range(1, width + 1)))
    for item in inputs:
        key = (item.list or "").removeprefix("fixed.")
        if item.type == "choice" and key not in rows:
            words = [f"choice.{choice}" for choice in item.choices] + [""] * (width - len(item.choices))
            cells = dict(zip(offered.keys, words, strict=True))
            rows[key] = Row(key=key, file="choices.toml", kind="word", cells=cells, label=item.key)
    return Block("choices_offered", "choices.toml", offered, tuple(rows.values()), show_unit=False), offered


def _limit_row(item: Input, end: str, once: InstanceList) -> Row:
    value, show = getattr(item, end), getattr(item, f"show_{end}")
    key = f"{end}_{item.key}"
    style = f"{item.style} limit".strip()
    if value is None:
        return Row(key=key, file=item.file, kind="blank")
    limit: dict[str, Any] = {"decimals": item.decimals, "style": style, "part": Part(end, item)}
    if isinstance(value, str):
        return Row(key=key, file=item.file, echo=show or value, **limit)
    return Row(key=key, file=item.file, cells={once.name: value}, unit=item.unit, **limit)


class _Own(NamedTuple):
    """The rows of a group of inputs, by what they are of them."""

    typed: tuple[Row, ...]
    states: tuple[Row, ...]
    used: tuple[Row, ...]
    refused: tuple[Row, ...]


def _across(
    block: Block, inputs: tuple[Input, ...], own: _Own, below: bool, once: InstanceList
) -> tuple[list[Block], list[Block]]:
    """A line an input: label, cells, unit, from, to, states; used values and refusals on the other sheet."""
    same: dict[str, Any] = {"file": block.file, "instances": block.instances}
    width = max(len(block.instances.keys), 2)
    low, high = (tuple(_limit_row(item, end, once) for item in inputs) for end in ("lowest", "highest"))
    limit: dict[str, Any] = {
        "file": block.file,
        "instances": once,
        "beside": block.key,
        "titled": False,
        "show_unit": False,
    }
    aside: dict[str, Any] = {"beside": None, "at": 0} if below else {"beside": block.key, "at": width + 4}
    entry = [
        replace(block, rows=own.typed),
        Block(key=f"{block.key}_from", rows=low, at=width + 2, head="head_from", **limit),
        Block(key=f"{block.key}_to", rows=high, at=width + 3, head="head_to", **limit),
        Block(f"{block.key}_state", rows=own.states, titled=below, show_unit=False, head="head_state", **aside, **same),
    ]
    aside = {"beside": None, "at": 0} if below else {"beside": f"{block.key}_used", "at": width + 2}
    kept = [
        Block(f"{block.key}_used", rows=own.used, title=block.key, **same),
        Block(
            f"{block.key}_refused",
            rows=own.refused,
            titled=below,
            title=block.key,
            head="head_refused",
            show_unit=False,
            **aside,
            **same,
        ),
    ]
    return entry, kept


def _down(block: Block, inputs: tuple[Input, ...], own: _Own, once: InstanceList) -> tuple[list[Block], list[Block]]:
    """A column an input, a line an instance: the block's own rows lead, the states stand beside."""
    same: dict[str, Any] = {"file": block.file, "instances": block.instances, "layout": "down"}
    lead = block.rows[0]
    again = Row(key=f"{lead.key}_again", file=block.file, decimals=0, echo=lead.key, label=lead.key)
    aside = len(inputs) + 2
    typed = [item for item in inputs if item.type not in LOOKED_UP]
    numbers = [item for item in typed if not isinstance(item.lowest, str) or not isinstance(item.highest, str)]
    limits = tuple(_limit_row(item, end, once) for item in numbers for end in ("lowest", "highest"))
    entry = [
        replace(block, rows=block.rows + own.typed),
        Block(key=f"{block.key}_state", rows=own.states, beside=block.key, at=aside, titled=False, **same),
    ]
    kept = [
        Block(key=f"{block.key}_used", rows=(again, *own.used), title=block.key, **same),
        Block(key=f"{block.key}_refused", rows=own.refused, beside=f"{block.key}_used", at=aside, titled=False, **same),
    ]
    if limits:
        kept.append(Block(key=f"{block.key}_limits", file=block.file, instances=once, rows=limits))
    return entry, kept
