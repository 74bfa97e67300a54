"""Judges the pasted lines: what is used of each cell, and whether a line counts.

Another method: eyes, patients and lenses by counting names, where the cells look up first lines; a fault as the least
of all, where they count one kind after the other.
An echo: kinds of cells and limits as the cells compute them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.model import ErrorValue, Input
from builder.planner.reference.plan.judge import LARGEST_NUMBER_AS_NAME, SIGNS, find_name, first_match, name_key
from builder.planner.reference.register.patients import numbered
from builder.planner.reference.register.rows import RegisterBook, Rows, objects

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
# What else is told of a line, in this order: no number, no lens, twice, of this edition, of another one.
REASONS = ("file_number_unusable", "lens_unusable", "line_doubled", "line_complete", "line_other_edition")


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
    _verdicts(book, rows, _told(book, rows, inputs))
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


def _told(book: RegisterBook, rows: Rows, inputs: list[Input]) -> list[str]:
    """What is told of the fault of each line, "" without one: the least in the order of FAULTS, in its first column."""
    order = {book.words.get("word", key).casefold(): number for number, key in enumerate(FAULTS)}
    told = []
    for cells in zip(*(rows.line(item.key) for item in inputs), strict=True):
        found = [(order[key], n) for n, cell in enumerate(cells) if (key := str(cell).casefold()) in order]
        worst, at = min(found, default=(-1, -1))
        head = book.words.label(inputs[at].key) + book.words.get("word", "colon")
        told.append(head + book.words.get("word", FAULTS[worst]) if found else "")
    return told


def _verdicts(book: RegisterBook, rows: Rows, told: list[str]) -> None:
    """Which lines count, and why or why not; whose eyes they are, and the place of their lens."""
    filled, faulty = rows.line("line_filled") == 1, np.array([bool(fault) for fault in told])
    fit = filled & ~faulty
    numbers = rows.line("file_number")
    names = [name_key(name if isinstance(name, str) else f"{name:.0f}").casefold() for name in numbers]
    lenses = [name_key(str(lens)).casefold() for lens in rows.line("lens_choice")]
    nameless, lensless = (fit & np.array([bool(set(key) & set(SIGNS)) for key in keys]) for keys in (names, lenses))
    eyes = list(zip(names, rows.number("line_eye").tolist(), strict=True))
    twice = Counter(eye for eye, usable in zip(eyes, fit & ~nameless, strict=True) if usable)
    doubled = fit & ~nameless & np.array([twice[eye] > 1 for eye in eyes])
    counts = fit & ~nameless & ~lensless & ~doubled
    usable = [(key, n) for n, key in enumerate(lenses) if fit[n] and not lensless[n]]
    first = dict(reversed(usable))
    order = sorted(first, key=first.__getitem__)
    known = rows.named("line_edition", book.plan_edition)
    verdicts = [objects([book.words.get("word", key)]) for key in ("line_counts", "line_left_out")]
    reasons = [objects(told), *(objects([book.words.get("word", key)]) for key in REASONS)]
    rows.put(
        "lines",
        line_counts=counts.astype(float),
        line_verdict=np.select([counts, filled], verdicts, ""),
        line_reason=np.select([faulty, nameless, lensless, doubled, known, filled], reasons, ""),
    )
    rows.patient = numbered(names, ~counts)
    rows.lens = np.array(
        [order.index(key) + 1.0 if counted else np.nan for key, counted in zip(lenses, counts, strict=True)]
    )
    rows.lens[rows.lens > book.lenses] = np.nan
    shown = [rows.line("lens_choice")[first[key]] for key in order] + [""] * book.lenses
    rows.put("lens_rows", lens_found=objects(shown[: book.lenses]))
    rows.put("plan", lenses_seen=float(len(order)))
