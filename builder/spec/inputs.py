"""Turns an input into its rows: the typed cell, its state in words, the used value, the refusal flag, the limits.

The plain name is the USED value. Only the judge reads the typed cell (`typed_<key>`), so nothing typed reaches a
calculation unless it is of the right kind, inside its hard limits and in no contradiction.
"""

from __future__ import annotations

from dataclasses import replace

from builder.spec.errors import SpecError
from builder.spec.model import Block, Input, InstanceList, Row

PLAN = InstanceList("plan", "plan", ("plan",))


def _limit(item: Input, end: str) -> str:
    value = getattr(item, end)
    return value if isinstance(value, str) else f"{end}_{item.key}"


def _judge(item: Input, typed: str, empty: str) -> str:
    """The judge of design: error, logical, text, blank, number, in this order, the same in every engine."""
    text, number = "word.text_value", "word.number_value"
    if item.type in ("number", "date"):
        low, high = _limit(item, "lowest"), _limit(item, "highest")
        inside = f"AND({typed}>={low},{typed}<={high})"
        if item.type == "date":
            inside = f"AND({typed}>={low},{typed}<={high},{typed}=ROUND({typed},0))"
        number = f"IF(COUNT({low},{high})<2,word.waits_for_unit,IF({inside},word.used,word.out_of_limits))"
    elif item.type == "choice":
        tests = ",".join(f"{typed}=choice.{choice}" for choice in item.choices)
        text = f"IF(OR({tests}),word.used,word.unlisted)"
    elif item.type == "listed":
        place = f"MATCH({typed},{item.list},0)"
        text = (
            f"IF(ISNUMBER({place}),IF(INDEX({item.list},1,{place})={typed},word.used,word.unlisted),word.unlisted)"
        )
    else:
        length = f"LEN(TRIM({typed}))"
        text = f"IF({length}=0,word.only_spaces,IF({length}<=highest_{item.key},word.used,word.too_long))"
        if item.type == "identifier":
            number = f"IF(AND({typed}=ROUND({typed},0),{typed}>0,{typed}<1000*1000*1000),word.used,word.number_value)"
    return (
        f"IF(ISERROR({typed}),word.error_value,IF(ISLOGICAL({typed}),word.logical_value,"
        f'IF(ISTEXT({typed}),IF(LEN({typed})=0,{empty},{text}),IF(ISBLANK({typed}),{empty},'
        f"IF(ISNUMBER({typed}),{number},word.other_value)))))"
    )


def _used(item: Input, typed: str, empty: str) -> str:
    value = f"state_{item.key}"
    if item.type == "choice":
        shown = '""'
        for choice in reversed(item.choices):
            shown = f"IF({typed}=choice.{choice},choice.{choice},{shown})"
    elif item.type == "listed":
        shown = f"INDEX({item.list},1,MATCH({typed},{item.list},0))"
    elif item.type in ("text", "name"):
        shown = f"TRIM({typed})"
    else:
        shown = typed
    default = f"IF({value}=word.default_used,{empty},\"\")" if empty else '""'
    return f"IF({value}=word.used,{shown},{default})"


def input_blocks(block: Block, inputs: tuple[Input, ...], below: bool) -> tuple[list[Block], list[Block]]:
    """The blocks of an entry sheet, and those of the sheet of used values, for one group of inputs."""
    typed, states, used, refused, pairs, low, high = [], [], [], [], [], [], []
    for item in inputs:
        name, file = item.key, item.file
        kind = "word" if item.is_word else "number"
        row = Row(key=f"typed_{name}", file=file, kind=kind, unit=item.unit, decimals=item.decimals, input=item,
                  publish=item.publish or name, style=f"{item.style} typed".strip())
        typed.append(row)
        empty = "word.default_used" if item.default else '""'
        judge = _judge(item, f"typed_{name}", empty)
        plain = {"file": file, "guarded": False}
        if item.conflict:
            if not item.conflict_word:
                raise SpecError(file, name, "has a conflict without a conflict_word", "Name the word that says it")
            pairs.append(Row(key=f"judged_{name}", kind="word", formula=judge, **plain))
            # A number in conflict is compared as a number, a word as a word: accepted keeps the kind.
            pairs.append(Row(key=f"accepted_{name}", kind=kind, decimals=item.decimals,
                             formula=f'IF(judged_{name}=word.used,typed_{name},"")', **plain))
            condition = item.conflict.replace(f"all.{name}", f"all.accepted_{name}")
            condition = _rename(condition, name, f"accepted_{name}")
            pairs.append(Row(key=f"conflict_{name}", decimals=0, file=file, formula=f"IF({condition},1,0)"))
            judge = f"IF(COUNT(conflict_{name})=1,IF(conflict_{name}=1,word.{item.conflict_word},judged_{name}),judged_{name})"
        states.append(Row(key=f"state_{name}", kind="word", formula=judge, style="judgement", **plain))
        used.append(Row(key=name, kind=kind, unit=item.unit, decimals=item.decimals, style=item.style,
                        formula=_used(item, f"typed_{name}", item.default or ""), **plain))
        refused.append(Row(key=f"refused_{name}", decimals=0, **plain,
                           formula=f"IF(OR(LEN(state_{name})=0,state_{name}=word.used,state_{name}=word.default_used),0,1)"))
        for end, rows in (("lowest", low), ("highest", high)):
            value, show = getattr(item, end), getattr(item, f"show_{end}")
            key = f"{end}_{name}"
            if isinstance(value, str):
                rows.append(Row(key=key, file=file, decimals=item.decimals, echo=show or value, style=f"{item.style} limit".strip()))
            elif value is not None:
                rows.append(Row(key=key, file=file, decimals=item.decimals, cells={"plan": value}, unit=item.unit,
                                style=f"{item.style} limit".strip()))
            else:
                rows.append(Row(key=key, file=file, kind="blank"))
    size = len(block.instances.keys)
    entry = [replace(block, rows=tuple(typed))]
    limit = {"file": block.file, "instances": PLAN, "beside": block.key, "titled": False, "show_unit": False}
    entry.append(Block(key=f"{block.key}_from", rows=tuple(low), at=max(size, 2) + 2, **limit))
    entry.append(Block(key=f"{block.key}_to", rows=tuple(high), at=max(size, 2) + 3, **limit))
    state = Block(key=f"{block.key}_state", file=block.file, instances=block.instances, rows=tuple(states), show_unit=False,
                  beside=None if below else block.key, at=0 if below else max(size, 2) + 4, titled=below)
    entry.append(state)
    used_block = Block(key=f"{block.key}_used", file=block.file, instances=block.instances, rows=tuple(used))
    refused_block = Block(key=f"{block.key}_refused", file=block.file, instances=block.instances, rows=tuple(refused),
                          beside=None if below else used_block.key, at=0 if below else max(size, 2) + 2, titled=below,
                          show_unit=False)
    kept = [used_block, refused_block]
    if pairs:
        kept.append(Block(key=f"{block.key}_pairs", file=block.file, instances=block.instances, rows=tuple(pairs), show_unit=False))
    return entry, kept


def _rename(formula: str, name: str, new: str) -> str:
    from builder.formula.tokens import rename

    return rename(formula, name, new)
