"""Turns the list of points (why a workbook is held back) into two blocks: points of the whole, points of each side."""

from __future__ import annotations

from typing import Any

from builder.engine.spec.errors import SpecError
from builder.engine.spec.grammar import demand_formula
from builder.engine.spec.lists import OF_SIDE, WHOLE, InstanceList, Sides, of_whole
from builder.engine.spec.model import Block, Input, Point, Row
from builder.engine.spec.reading import demand

HINTS = {"number": "number_hint", "date": "date_hint"}  # how to type what came as a text, by the type of an input
WARNINGS = ("soft", "confirm")  # the levels of what a person reads and confirms


def confirm_list(table: dict[str, Any], sides: Sides) -> InstanceList:
    """The points of a side that each need a yes of their own."""
    keys = [entry["key"] for entry in table.get(OF_SIDE, []) if entry.get("level") == "confirm"]
    return InstanceList("to_confirm", "side", tuple(keys), owners=sides.keys)


def _list_sentence(key: str, lead: str) -> str:
    """Which cell of a list is refused, by what leads its line, and why."""
    place = f"MATCH(1,refused_{key},0)"
    which = f"label.{key}&word.comma&label.{lead}&word.space&INDEX({lead},{place},1)"
    return f"{which}&word.colon&INDEX(state_{key},{place},1)&word.type_again&where.{key}"


def read_points(
    file: str,
    table: dict[str, Any],
    inputs: list[Input],
    owners: dict[str, InstanceList],
    leads: dict[str, str],
    sides: Sides,
    once: str,
) -> tuple[Point, ...]:
    """All points in the order in which they are shown: first one for each input that can be refused."""
    points = []
    for item in inputs:
        owner = owners[item.block]
        if owner.per == "side":
            points.append(
                Point(
                    f"refused_{item.key}",
                    "stop",
                    False,
                    f"IF(SUM(refused_{item.key})>0,1,0)",
                    cell=item.key,
                    refuses=item.key,
                    file=file,
                    sentence=_list_sentence(item.key, leads[item.block]),
                )
            )
        elif owner.once or owner.per == "sides":
            points.append(
                Point(
                    f"refused_{item.key}",
                    "stop",
                    owner.once,
                    f"refused_{item.key}",
                    cell=item.key,
                    refuses=item.key,
                    file=file,
                    hint=HINTS.get(item.type, ""),
                )
            )
    for name in (of_whole(once), OF_SIDE):
        for entry in table.get(name, []):
            demand(file, entry["key"], entry, () if "sentence" in entry else ("cell",))
            if entry["level"] not in WARNINGS and "code" in entry:
                todo = "Only points of level soft or confirm have one: leave it out"
                raise SpecError(file, entry["key"], f"is of level {entry['level']} and has a code", todo)
            demand_formula(file, entry["key"], entry["live"], entry.get("sentence"))
            points.append(Point(of_whole=name != OF_SIDE, file=file, **entry))
    return tuple(points)


def _sentence(point: Point) -> str:
    if point.sentence:
        return point.sentence
    if point.refuses:
        sentence = f"label.{point.cell}&word.colon&state_{point.cell}&word.type_again&where.{point.cell}"
        return sentence + (f'&IF(state_{point.cell}=word.text_value,word.{point.hint},"")' if point.hint else "")
    return f"point.{point.key}&word.type_at&where.{point.cell}"


def _rows(file: str, prefix: str, points: list[Point], sides: Sides, publish: str) -> tuple[Row, ...]:
    opening = f"{sides.opening}&" if prefix == OF_SIDE else ""
    sentences = {p.key: f'IF({prefix}_live=1,{opening}{_sentence(p)},"")' for p in points}
    plain: dict[str, Any] = {"file": file, "guarded": False}
    coded = any(p.code for p in points)
    code = Row(key=f"{prefix}_code", decimals=0, cells={p.key: p.code for p in points}, file=file)
    return (
        Row(key=f"{prefix}_number", decimals=0, formula=f"IF({prefix}_live=1,SUM(upto.{prefix}_live),0)", **plain),
        Row(
            key=f"{prefix}_live",
            decimals=0,
            formulas={p.key: (p.live if p.of_whole else f"MIN({sides.used},{p.live})") for p in points},
            **plain,
        ),
        Row(key=f"{prefix}_level", kind="word", cells={p.key: f"word.level_{p.level}" for p in points}, file=file),
        Row(
            key=f"{prefix}_sentence",
            kind="word",
            formulas=sentences,
            style="sentence",
            publish=publish,
            **plain,
        ),
        *((code,) if coded else ()),
    )


def point_blocks(
    file: str, points: tuple[Point, ...], sides: Sides, once: str
) -> tuple[list[Block], dict[str, InstanceList]]:
    """The two blocks and the two lists that they are laid out over; one of each in a workbook without sides."""
    made: list[tuple[InstanceList, tuple[Row, ...]]] = []
    for name, publish in ((of_whole(once), f"{once}_reasons"), (OF_SIDE, "reasons")):
        own = [point for point in points if point.of_whole is (name != OF_SIDE)]
        keys = tuple(point.key for point in own)
        if name != OF_SIDE:
            owner = InstanceList(f"{name}s", WHOLE, keys)
        elif sides.name:
            owner = InstanceList(f"{name}s", "side", keys, owners=sides.keys)
        else:
            continue
        made.append((owner, _rows(file, name, own, sides, publish)))
    blocks = [Block(o.name, file, o, layout="down", rows=rows, told_by="instance") for o, rows in made]
    return blocks, {owner.name: owner for owner, _ in made}
