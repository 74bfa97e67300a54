"""Judges typed cells: what is used, what is refused and in which words.

One cell at a time, as a careful clerk would.

Another method: first_match by regular expressions, where the cells ask MATCH.
An echo: kinds of cells, limits and conflicts, by comparisons as the cells compute them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.model import ErrorValue, Input
from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, WordArray

LARGEST_NUMBER_AS_NAME = 1e9
SIGNS = "*?~"  # what a spreadsheet search takes for other letters


@dataclass
class Judged:
    """One input: its state before contradictions, and the value that would be used."""

    state: WordArray
    accepted: NDArray[Any]
    place: Array | None = None  # of a choice: where a search finds it in its list, counted from 1; 0: nowhere


def squeeze(text: str) -> str:
    """Without outer spaces and with single inner ones."""
    return " ".join(part for part in text.split(" ") if part)


def name_key(name: str) -> str:
    """What is compared of a name: neither spaces nor small letters."""
    return name.replace(" ", "").upper().replace("İ", "I")


def first_match(typed: str, names: Sequence[str]) -> int | None:
    """The first of the names that a spreadsheet search finds for a text: * and ? stand for letters, case is ignored."""
    pattern = re.sub(r"~([*?~])|([*?])|([^*?~]+)|(~)", _as_pattern, typed)
    for place, name in enumerate(names):
        if name and re.fullmatch(pattern, name, flags=re.IGNORECASE | re.DOTALL):
            return place
    return None


def find_name(typed: str, names: Sequence[str]) -> int | None:
    """The place of a name in a list, if what a search finds for it is the name itself."""
    place = first_match(typed, names)
    return place if place is not None and names[place].casefold() == typed.casefold() else None


def _as_pattern(match: re.Match[str]) -> str:
    escaped, wild, plain, tilde = match.groups()
    if wild:
        return ".*" if wild == "*" else "."
    return re.escape(escaped or plain or tilde)


def judge(
    item: Input, typed: NDArray[Any], low: Any, high: Any, words: Words, names: Callable[[int], Sequence[str]]
) -> Judged:
    """State and accepted value of one input over all its cells. low, high: numbers (NaN: not known yet)."""
    low, high = np.broadcast_to(low, typed.shape), np.broadcast_to(high, typed.shape)
    empty = _judge_cell(item, None, np.nan, np.nan, words, ())[0]
    states = np.full(typed.shape, words.get("word", empty) if empty else "", dtype=object)
    values = np.full(typed.shape, "", dtype=object) if item.is_word else np.full(typed.shape, np.nan)
    held = [tuple(place) for place in np.argwhere(typed != np.array(None, dtype=object)).tolist()]
    for place in held:
        key, value = _judge_cell(item, typed[place], float(low[place]), float(high[place]), words, names(place[0]))
        states[place] = words.get("word", key) if key else ""
        if key == "used":
            values[place] = value
    if item.type not in ("choice", "listed"):
        return Judged(states, values)
    places = np.zeros(typed.shape)
    for place in held:
        cell = typed[place]
        if isinstance(cell, str) and cell and not isinstance(cell, ErrorValue):
            offered = [words.get("choice", choice) for choice in item.choices] or names(place[0])
            hit = first_match(cell, offered)
            places[place] = 0 if hit is None else hit + 1
    return Judged(states, values, places)


def _within(typed: float, low: float, high: float) -> bool:
    """With slack for what programs round when they compare, which they do not at 0."""
    return (
        low - (CONSTANTS.rounding_slack if low else 0.0) <= typed <= high + (CONSTANTS.rounding_slack if high else 0.0)
    )


def _judge_cell(
    item: Input, typed: Any, low: float, high: float, words: Words, names: Sequence[str]
) -> tuple[str, Any]:
    empty = "default_used" if item.default else ""
    if typed is None or (typed == "" and not isinstance(typed, ErrorValue)):
        return empty, None
    if isinstance(typed, ErrorValue):
        return "error_value", None
    if isinstance(typed, bool):
        return "logical_value", None
    if isinstance(typed, str):
        return _judge_text(item, typed, words, names)
    if item.type in ("number", "date"):
        if np.isnan(low) or np.isnan(high):
            return "waits_for_unit", None
        inside = _within(typed, low, high) and (item.type == "number" or float(typed).is_integer())
        return ("used" if inside else _said_outside(item, typed, low, high)), float(typed)
    if item.type == "identifier" and _names(float(typed)):
        return "used", float(typed)
    return "number_value", None


def _said_outside(item: Input, typed: float, low: float, high: float) -> str:
    """The key of the word for a number out of limits, which may be in thousandths of the unit."""
    if item.thousandths and _within(typed, 1000 * low, 1000 * high):
        return item.thousandths
    return "out_of_limits"


def said_outside(item: Input, typed: NDArray[Any], low: Any, high: Any, words: Words) -> WordArray:
    """What would be said of each typed number, were it out of limits; "" where there is no number."""
    return _of_numbers(typed, low, high, words, lambda *cell: _said_outside(item, *cell))


def said_number(item: Input, typed: NDArray[Any], low: Any, high: Any, words: Words) -> WordArray:
    """Whether each typed number is fit to be a name, or within its limits; one that is not there counts as 0."""
    if item.type == "identifier":
        return _of_numbers(typed, 0.0, 0.0, words, lambda number, *_: "used" if _names(number) else "number_value")
    known = np.nan_to_num(low), np.nan_to_num(high)
    return _of_numbers(typed, *known, words, lambda *cell: "used" if _within(*cell) else "out_of_limits")


def _names(number: float) -> bool:
    return number.is_integer() and 0 < number < LARGEST_NUMBER_AS_NAME


def _of_numbers(
    typed: NDArray[Any], low: Any, high: Any, words: Words, key: Callable[[float, float, float], str]
) -> WordArray:
    said = np.full(typed.shape, "", dtype=object)
    low, high = np.broadcast_to(low, typed.shape), np.broadcast_to(high, typed.shape)
    for place, value in np.ndenumerate(typed):
        if isinstance(value, int | float) and not isinstance(value, bool):
            said[place] = words.get("word", key(float(value), low[place], high[place]))
    return said


def _judge_text(item: Input, typed: str, words: Words, names: Sequence[str]) -> tuple[str, Any]:
    if item.type in ("number", "date"):
        return "text_value", None
    if item.type == "choice":
        for choice in item.choices:
            word = words.get("choice", choice)
            if word.casefold() == typed.casefold():
                return "used", word
        return "unlisted", None
    if item.type == "listed":
        place = find_name(typed, names)
        return ("unlisted", None) if place is None else ("used", names[place])
    text = squeeze(typed)
    if not text:
        return "only_spaces", None
    if len(typed) > float(str(item.highest)):
        return "too_long", None
    return "used", typed if item.type == "identifier" else text


def conclude(
    item: Input, judged: Judged, conflict: Array | None, default: Any, words: Words
) -> Mapping[str, NDArray[Any]]:
    """The rows state_x, x (used) and refused_x of an input, after contradictions."""
    state = judged.state
    if conflict is not None:
        state = np.where(conflict == 1, words.get("word", item.conflict_word or ""), state)
    accepted = state == words.get("word", "used")
    fallback: Any = default if item.default else ("" if item.is_word else np.nan)
    other = np.where(state == words.get("word", "default_used"), fallback, "" if item.is_word else np.nan)
    used = np.where(accepted, judged.accepted, other)
    refused = ~accepted & (state != "") & (state != words.get("word", "default_used"))
    return {
        f"state_{item.key}": state,
        item.key: used if item.is_word else used.astype(float),
        f"refused_{item.key}": refused.astype(float),
    }
