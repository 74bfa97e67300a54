"""Judges the pasted lines: what is used of each cell, and whether a line counts.

An echo: kinds of cells, limits, look-ups and the first line of a name as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.model import ErrorValue, Input
from builder.planner.reference.plan.judge import LARGEST_NUMBER_AS_NAME, SIGNS, find_name, first_match, name_key
from builder.planner.reference.register.patients import fellows, first_places
from builder.planner.reference.register.rows import Array, RegisterBook, Rows, objects

# Faults in the order in which they are told; the first one present is the line's.
FAULTS = (
    "error_value",
    "logical_value",
    "text_value",
    "number_value",
    "out_of_limits",
    "unlisted",
    "only_spaces",
    "too_long",
    "missing",
)


def _blank(typed: Any) -> bool:
    return typed is None or (typed == "" and not isinstance(typed, ErrorValue))


def _judge(item: Input, typed: Any, filled: bool, names: Sequence[str], ends: tuple[float, float]) -> Any:
    """The used value of a cell: a number, a text, or the key of what is wrong with a colon before it."""
    if _blank(typed):
        return ":missing" if item.needed and filled else ""
    if isinstance(typed, ErrorValue):
        return ":error_value"
    if isinstance(typed, bool):
        return ":logical_value"
    if item.type in ("number", "date"):
        if isinstance(typed, str):
            return ":text_value"
        whole = item.type == "number" or float(typed).is_integer()
        return float(typed) if ends[0] <= typed <= ends[1] and whole else ":out_of_limits"
    if isinstance(typed, str):
        if item.type == "listed":
            place = find_name(typed, names)
            return ":unlisted" if place is None else place + 1.0
        return ":only_spaces" if not typed.strip(" ") else ":too_long" if len(typed) > ends[1] else typed
    fine = item.type == "identifier" and float(typed).is_integer() and 0 < typed < LARGEST_NUMBER_AS_NAME
    return float(typed) if fine else ":number_value"


def read_lines(book: RegisterBook, typed: dict[str, NDArray[Any]], ends: dict[str, tuple[float, float]]) -> Rows:
    """Used cells and verdicts of one register; `typed`: the columns, `ends`: their limits."""
    rows, w = Rows(), book.words.get
    inputs = [item for item in book.inputs if item.key in ends]
    filled = ~np.all([[_blank(cell) for cell in typed[item.key]] for item in inputs], axis=0)
    for item in inputs:
        column, names = typed[item.key], book.listed.get(item.list or "", ())
        used = [_judge(item, cell, full, names, ends[item.key]) for cell, full in zip(column, filled, strict=True)]
        shown = [w("word", v[1:]) if isinstance(v, str) and v.startswith(":") else v for v in used]
        rows.put("lines", **{item.key: objects(shown)}, **_aside(item, column, shown, names))
    rows.put("lines", line_filled=filled.astype(float))
    _verdicts(book, rows, filled & ~_faults(book, rows, inputs))
    return rows


def _aside(item: Input, typed: NDArray[Any], shown: list[Any], names: Sequence[str]) -> dict[str, NDArray[Any]]:
    """What a column is judged by: where a search finds a word, the first place if nowhere; a number that is a name."""
    if item.type == "listed":
        words = [cell if isinstance(cell, str) and not isinstance(cell, ErrorValue) else "" for cell in typed]
        return {f"place_{item.key}": np.array([float(bool(t)) + (first_match(t, names) or 0) for t in words])}
    if item.type == "identifier":
        number = [isinstance(cell, int | float) and not isinstance(cell, bool) for cell in typed]
        return {f"judged_{item.key}": objects([s if n else "" for s, n in zip(shown, number, strict=True)])}
    return {}


def _faults(book: RegisterBook, rows: Rows, inputs: list[Input]) -> NDArray[np.bool_]:
    """Which lines have a fault; the one that is told is the least in the order of FAULTS, in its first column."""
    words, none = [book.words.get("word", key) for key in FAULTS], len(FAULTS)
    order = {word.casefold(): number for number, word in enumerate(words)}
    table = np.array([[order.get(str(cell).casefold(), none) for cell in rows.line(item.key)] for item in inputs])
    worst, at, said = table.min(axis=0), table.argmin(axis=0), objects([*words, ""])
    for kind, of in enumerate(("kind", "value", "text")):
        of_kind = np.where(table // 3 == kind, table, none).min(axis=0)
        rows.put("lines", **{f"fault_of_{of}": said[of_kind]})
    heads = objects([book.words.label(item.key) + book.words.get("word", "colon") for item in inputs])
    faulty = worst < none
    rows.put(
        "lines",
        line_fault=said[worst],
        line_fault_at=np.where(faulty, at + 1.0, np.nan),
        line_faulty=faulty.astype(float),
        fault_told=np.where(faulty, heads[at] + said[worst], ""),
    )
    return faulty


def _firsts(keys: Sequence[str]) -> Array:
    """For each key the place, from 1, of the first line that has it; 0 for one with a sign of a search; NaN empty."""
    first = first_places(keys)
    return np.array([(np.nan if not key else 0.0 if set(key) & set(SIGNS) else first[key.casefold()]) for key in keys])


def _verdicts(book: RegisterBook, rows: Rows, fit: NDArray[np.bool_]) -> None:
    """Which lines count; `fit`: filled and without a fault."""
    stroke = book.words.get("word", "stroke")
    names = [name if isinstance(name, str) else f"{name:.0f}" for name in rows.line("file_number")]
    eyes, lens = rows.number("line_eye"), rows.line("lens_choice")
    keys = [name_key(f"{names[n]}{stroke}{eyes[n]:.0f}") if ok else "" for n, ok in enumerate(fit)]
    lenses = [name_key(lens[n]) if ok else "" for n, ok in enumerate(fit)]
    first, lens_first = _firsts(keys), _firsts(lenses)
    doubled = (first > 0) & ((first[:, None] == first).sum(axis=1) > 1)
    counts = (first > 0) & (lens_first > 0) & ~doubled
    fellows(rows, keys, counts, name_key(stroke))
    new = lens_first == np.arange(1, len(fit) + 1)
    order = new.cumsum().astype(float)
    number = np.where(counts, order[np.nan_to_num(lens_first, nan=1).astype(int) - 1], np.nan)
    rows.put(
        "lines",
        line_key=objects(keys),
        line_first=first,
        line_doubled=np.where(fit, doubled, np.nan),
        number_unusable=np.where(fit, first == 0, np.nan),
        edition_known=rows.named("line_edition", book.plan_edition).astype(float),
        lens_key=objects(lenses),
        lens_first=lens_first,
        lens_unusable=np.where(fit, lens_first == 0, np.nan),
        lens_new=new.astype(float),
        lens_order=order,
        lens_number=np.where(number <= book.lenses, number, np.nan),
        line_counts=counts.astype(float),
    )
