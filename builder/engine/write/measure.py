"""How many lines a text takes in a cell.

No row grows by itself in a locked sheet, so every height is set when it is written."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping
from functools import cache
from typing import Any

from builder.engine.spec.model import Row
from builder.engine.write.job import Job

PLAIN_SIZE = 10.0  # a column of width 1 is as wide as a digit of this type
LETTERS = 1.08  # letters of a sentence in the place of a digit, with some to spare
BOLD = 1.08  # bold type is so much wider
LONGEST = 20  # words of a free text
UNEVEN = 6  # a formula is broken at its commas: one line more for every so many
NUMBER = re.compile(r"FIXED\((?:[^()]|\((?:[^()]|\([^()]*\))*\))*\)")  # a number within a text
JOINED = re.compile(r"[\w.]+(?:&[\w.]+)+")  # what a formula joins into one text
COUNT = "000"  # of sides, within such a text


def lines_of(text: str, width: float, style: Mapping[str, Any]) -> int:
    """Lines that a text takes in a column of this width, on the safe side."""
    return wrapped_lines(text, width, float(style["font_size"]), bool(style.get("bold")))


@cache  # the same words stand in many cells
def wrapped_lines(text: str, width: float, size: float, bold: bool) -> int:
    """How many lines a text takes in so wide a column, in letters of so many points."""
    room = max(3, int(width * PLAIN_SIZE / size * LETTERS / (BOLD if bold else 1.0)) - 1)
    lines = 0
    for part in text.split("\n"):
        if len(part) <= room:  # as most are, which need not be wrapped to be counted
            lines += 1
            continue
        needed = max(1, len(textwrap.wrap(part, room)))
        lines += needed + (1 + needed // UNEVEN if needed > 1 and max(map(len, part.split())) > room else 0)
    return lines


def height_of(lines: int, style: Mapping[str, Any]) -> float:
    """Points that so many lines of a type need."""
    return lines * float(style["font_size"]) * 1.22 + 2.5


def wordings(job: Job, row: Row, instance: str) -> list[str]:
    """Every word that a cell of words can show, found through the words and rows that its formula names."""
    if (row.key, instance) not in job.found_wordings:
        found = _search(job, row, instance, frozenset(), "wrapped" in row.style)
        job.found_wordings[row.key, instance] = list(dict.fromkeys(found))
    return job.found_wordings[row.key, instance]


def every_wording(job: Job) -> dict[tuple[str, str], list[str]]:
    """The wordings of every cell of words that is measured, by row and instance: the same for whatever is typed."""
    for slot in job.layout.slots:
        if slot.row.is_word and "sentence" not in slot.row.style and not slot.block.instances.long:
            wordings(job, slot.row, slot.instance)
    return job.found_wordings


def _search(job: Job, row: Row, instance: str, seen: frozenset[str], joins: bool) -> list[str]:
    """`joins`: whether sentences that a formula joins are measured too, for a cell that is made to wrap them."""
    if row.key in seen or not row.is_word:
        return []
    seen |= {row.key}
    words = job.spec.words
    if row.input is not None and row.input.type == "choice":
        return [words.get("choice", choice) for choice in row.input.choices]
    if row.input is not None and row.input.type == "listed":
        return _of_row(job, row.input.list or "", seen, joins)
    if row.input is not None:  # free text that is there once may run over the empty cells beside it
        return (
            []
            if job.spec.once in job.layout.lists_of[row.key]
            else [("letters " * LONGEST)[: int(float(str(row.input.highest)))]]
        )
    if row.role(instance) == "constant":
        return [str(job.constant_value(row, instance))]
    formula = row.echo or row.formula_of(instance)
    if "&" in formula and not joins:
        return []
    joined, cited = _named(formula)
    found = [_joined(job, part, seen, joins) for part in joined]
    for name in cited:
        table, _, key = name.rpartition(".")
        if words.has(table, key):
            found.append(words.get(table, key))
        elif not _is_part(row, "state", "judged"):
            found += _of_row(job, key, seen, joins)
    return found


@cache  # the instances of a row share their formula
def _named(formula: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What a formula joins into texts, and the names that it cites."""
    from builder.engine.spec.tokens import names  # late: a workbook that is kept has its wordings

    return tuple(JOINED.findall(NUMBER.sub("number", formula))), tuple(names(formula))


def _joined(job: Job, part: str, seen: frozenset[str], joins: bool) -> str:
    """The words of a text that a formula joins, with the numbers between them and the longest text of other rows."""
    split = [name.rpartition(".") for name in part.split("&")]
    words = job.spec.words
    return "".join(
        words.get(table, key) if words.has(table, key) else max([COUNT, *_of_row(job, key, seen, joins)], key=len)
        for table, _, key in split
    )


def _of_row(job: Job, key: str, seen: frozenset[str], joins: bool) -> list[str]:
    found: list[str] = []
    for name in job.layout.lists_of.get(key, ()) if key not in seen else ():
        cells = list(job.layout.cells(name, key).items())
        for (_, instance), slot in cells[:1] if job.spec.lists[name].long else cells:
            if not _is_part(slot.row, "state"):
                found += _search(job, slot.row, instance, seen, joins)
    return found


def _is_part(row: Row, *names: str) -> bool:
    """Whether a row is such a part of an input."""
    return row.part is not None and row.part.name in names
