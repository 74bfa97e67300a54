"""What people and other programs put into the wrong cell, and whether a workbook must refuse it."""

from __future__ import annotations

from typing import Any

from builder.engine.layout import Slot
from builder.engine.model import Model
from builder.engine.spec.model import Input
from builder.planner.exchange.casefile import input_slots
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.judge import ErrorValue

DATE = 46082.0  # 2026-03-01 as a spreadsheet counts days: above every limit of a number
KINDS = (
    "word",
    "wildcard",
    "spaces",
    "number as text",
    "negative",
    "date",
    "logical",
    "error",
    "swapped unit",
    "huge",
    "foreign",
)
ERRORS = (ErrorValue("#N/A"), ErrorValue("#DIV/0!"))
WORDS = ("forty-three", "n/a", "43,5", "=", "'")
WILDCARDS = ("*", "?????", "~*", "[a-z]*")


def inputs(model: Model) -> list[Slot]:
    """Every typed cell, in the order of the sheets."""
    return list(input_slots(model).values())


def rubbish(model: Model, slot: Slot, kind: str, present: Any, pick: int) -> Any:
    """A value of a kind for a cell that holds `present`; None where such a value would be no mistake there."""
    item = slot.row.input
    assert item is not None
    if kind == "logical":
        return bool(pick % 2)
    if kind == "error":
        return ERRORS[pick % 2]
    if kind == "spaces":
        return " " * (1 + pick % 3)
    if item.type in ("number", "date"):
        return _for_number(model, item, kind, present, pick)
    if item.type in ("choice", "listed"):
        first = model.spec.words.get("choice", item.choices[0]) if item.choices else "Example Heron"
        values = {
            "word": WORDS[pick % len(WORDS)],
            "wildcard": (*WILDCARDS, first[0] + "*")[pick % 5],
            "number as text": "43.5",
            "negative": -1.5,
            "date": DATE,
            "swapped unit": 43.5,
            "huge": 1e300,
            "foreign": (" " + first, first + " ")[pick % 2],
        }
        return values[kind]
    longest = int(float(str(item.highest)))
    values = {"negative": -5.0, "swapped unit": 43.5, "huge": (1e300, 1e15)[pick % 2], "foreign": "x" * (longest + 1)}
    if item.type != "identifier":
        values["date"] = DATE
    return values.get(kind)


def _for_number(model: Model, item: Input, kind: str, present: Any, pick: int) -> Any:
    if kind in ("word", "wildcard", "foreign"):
        return (WORDS if kind == "word" else WILDCARDS if kind == "wildcard" else ("1.2.3", "12°", "–4", "4 3", "1e"))[
            pick % 4
        ]
    if kind == "number as text":
        return "2026-01-15" if item.type == "date" else f"{present or 43.5:g}"
    held = float(present or 43.5)
    low, high = (value if isinstance(value, int | float) else None for value in (item.lowest, item.highest))
    if kind == "swapped unit" and low is None and item.unit == "D or mm":
        return 337.5 / present if present else None  # millimetres for dioptres, or the other way round
    value = {
        "negative": -abs(held) if low is None or low >= 0 else low - abs(held),
        "huge": (1e300, -1e300, 1e15)[pick % 3],
        "date": DATE,
        "swapped unit": (held * 1000, held / 1000)[pick % 2],
    }[kind]
    low, high = (low if low is not None else 3.0, high if high is not None else 150.0)
    return None if low <= value <= high else value


def names_it(model: Model, slot: Slot, sentences: list[str]) -> bool:
    """Whether a reason names the input by its label."""
    label = model.spec.words.label(slot.row.key)
    return any(label in sentence for sentence in sentences)


def eyes_concerned(slot: Slot) -> tuple[str, ...]:
    """The eyes that may release nothing while this cell is refused: its own, or both where it belongs to the plan."""
    return (slot.side,) if slot.side else EYES
