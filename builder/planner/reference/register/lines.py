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
from builder.planner.reference.register.patients import fellows
from builder.planner.reference.register.rows import RegisterBook, Rows

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
    cells = [typed[item.key] for item in inputs]
    count = len(cells[0])
    filled = np.array([not all(_blank(column[line]) for column in cells) for line in range(count)])
    for item, column in zip(inputs, cells, strict=True):
        names = book.listed.get(item.list or "", ())
        used = [_judge(item, column[n], bool(filled[n]), names, ends[item.key]) for n in range(count)]
        shown = [w("word", v[1:]) if isinstance(v, str) and v.startswith(":") else v for v in used]
        rows.put("lines", **{item.key: _objects(shown)}, **_aside(item, column, shown, names))
    rows.put("lines", line_filled=filled.astype(float))
    _verdicts(book, rows, inputs, filled)
    return rows


def _aside(item: Input, typed: NDArray[Any], shown: list[Any], names: Sequence[str]) -> dict[str, NDArray[Any]]:
    """What a column is judged by: where a search finds a word, the first place if nowhere; a number that is a name."""
    if item.type == "listed":
        words = [cell if isinstance(cell, str) and not isinstance(cell, ErrorValue) else "" for cell in typed]
        return {f"place_{item.key}": np.array([float(bool(t)) + (first_match(t, names) or 0) for t in words])}
    if item.type == "identifier":
        number = [isinstance(cell, int | float) and not isinstance(cell, bool) for cell in typed]
        return {f"judged_{item.key}": _objects([s if n else "" for s, n in zip(shown, number, strict=True)])}
    return {}


def _objects(values: list[Any]) -> NDArray[Any]:
    array = np.empty(len(values), dtype=object)
    array[:] = values
    return array


def _first_places(keys: list[str]) -> list[float]:
    """For each key the place, from 1, of the first line that has it; 0 for one with a sign of a search; NaN empty."""
    first: dict[str, int] = {}
    for place, key in enumerate(keys, start=1):
        first.setdefault(key.casefold(), place)
    return [np.nan if not key else 0.0 if set(key) & set(SIGNS) else float(first[key.casefold()]) for key in keys]


def _verdicts(book: RegisterBook, rows: Rows, inputs: list[Input], filled: NDArray[np.bool_]) -> None:
    w = book.words.get
    labels = [book.words.label(item.key) for item in inputs]
    faults, places, keys, lenses = [], [], [], []
    groups: tuple[list[str], ...] = ([], [], [])
    for n in range(len(filled)):
        cells = [rows.line(item.key)[n] for item in inputs]
        texts = [cell.casefold() if isinstance(cell, str) else None for cell in cells]
        words = [w("word", key) for key in FAULTS]
        fault = next((word for word in words if filled[n] and word.casefold() in texts), "")
        for number, group in enumerate(groups):
            group.append(next((word for word in words[3 * number : 3 * number + 3] if word.casefold() in texts), ""))
        faults.append(fault)
        places.append(texts.index(fault.casefold()) + 1.0 if fault else np.nan)
        fit = filled[n] and not fault
        number, eye = rows.line("file_number")[n], rows.line("line_eye")[n]
        name = number if isinstance(number, str) else f"{number:.0f}"
        keys.append(name_key(f"{name}{w('word', 'stroke')}{eye:.0f}") if fit else "")
        lenses.append(name_key(rows.line("lens_choice")[n]) if fit else "")
    first, lens_first = _first_places(keys), _first_places(lenses)
    doubled = [np.nan if np.isnan(p) else float(p > 0 and first.count(p) > 1) for p in first]
    counts = np.array([float(p > 0 and q > 0 and d == 0) for p, q, d in zip(first, lens_first, doubled, strict=True)])
    fellows(rows, keys, counts, name_key(w("word", "stroke")))
    new = np.array([float(p == n) for n, p in enumerate(lens_first, start=1)])
    order = new.cumsum()
    numbered = [order[int(p) - 1] if c and p > 0 else np.nan for p, c in zip(lens_first, counts, strict=True)]
    known = [name_key(str(edition or "")) == name_key(book.plan_edition) for edition in rows.line("line_edition")]
    reasons = []
    for n, fault in enumerate(faults):
        if not filled[n]:
            reasons.append("")
        elif fault:
            reasons.append(f"{labels[int(places[n]) - 1]}{w('word', 'colon')}{fault}")
        elif first[n] == 0:
            reasons.append(w("word", "file_number_unusable"))
        elif lens_first[n] == 0:
            reasons.append(w("word", "lens_unusable"))
        elif doubled[n]:
            reasons.append(w("word", "line_doubled"))
        else:
            reasons.append(w("word", "line_complete" if known[n] else "line_other_edition"))
    verdict = [
        "" if not full else w("word", "line_counts" if count else "line_left_out")
        for full, count in zip(filled, counts, strict=True)
    ]
    rows.put(
        "lines",
        fault_of_kind=_objects(groups[0]),
        fault_of_value=_objects(groups[1]),
        fault_of_text=_objects(groups[2]),
        line_fault=_objects(faults),
        line_fault_at=places,
        line_faulty=np.array([float(bool(fault)) for fault in faults]),
        fault_told=_objects(
            [f"{labels[int(p) - 1]}{w('word', 'colon')}{f}" if f else "" for f, p in zip(faults, places, strict=True)]
        ),
        number_unusable=np.where(np.isnan(first), np.nan, np.equal(first, 0)),
        lens_unusable=np.where(np.isnan(lens_first), np.nan, np.equal(lens_first, 0)),
        line_key=_objects(keys),
        line_first=first,
        line_doubled=doubled,
        edition_known=np.array(known, dtype=float),
        lens_key=_objects(lenses),
        lens_first=lens_first,
        lens_new=new,
        lens_order=order,
        lens_number=[n if n <= book.lenses else np.nan for n in numbered],
        line_counts=counts,
        line_verdict=_objects(verdict),
        line_reason=_objects(reasons),
    )
