"""The shape of every spec file: which entries it may hold, what kind of value each has, which it cannot do without.

Held against the tables below as soon as a file is read, so that whoever expands an entry may rely on its shape.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from builder.engine.spec.errors import SpecError
from builder.engine.spec.kinds import (
    ABOVE_0,
    ANY_WHOLE,
    CASES,
    CELL,
    COLOUR,
    DIGITS,
    DOTTED,
    EACH,
    ENDS,
    KEY,
    LIMIT,
    NAME,
    NAMED,
    NUMBER,
    PAIR,
    POSITIVE,
    TEXT,
    THREE,
    TRUTH,
    VERSION,
    WHOLE,
    Kind,
    list_of,
    one_of,
    table_of,
)
from builder.engine.spec.reading import demand, only

SHOWN = 60  # letters of a wrong value that a message shows


@dataclass(frozen=True)
class Shape:
    """An entry of a file: its words with their kinds (a Shape: a list of such entries), and those it must have."""

    words: Mapping[str, Kind | Shape]
    needed: tuple[str, ...] = ("key",)


ROW = Shape(
    {
        **{name: EACH for name in ("key", "label", "link")},  # `#` in the rows of a row set
        **{name: TEXT for name in ("formula", "echo", "unit", "style", "source", "publish")},
        **{name: list_of(NAMED, 1) for name in ("needs", "any_of")},
        "kind": one_of("number", "axis", "word", "blank"),
        "decimals": DIGITS,
        "formulas": table_of("a table of formulas by instance", TEXT),
        "cells": table_of("a table of numbers and texts by instance", CELL),
        "styles": table_of("a table of styles by instance", TEXT),
        "numbered": ANY_WHOLE,
        **{name: TRUTH for name in ("typed_count", "unguarded", "derived", "display", "step")},
        "steady": WHOLE,
        "whole": TRUTH,
        **{name: NAMED for name in ("shown", "when", "picked", "at", "by", "otherwise")},
        "first_of": CASES,
    }
)
USE = Shape({"use": KEY, "each": list_of(KEY, 1), "publish": table_of("a table of texts by row", TEXT)}, ("use",))
INPUT = Shape(
    {
        **{name: KEY for name in ("key", "choices", "conflict_word", "thousandths")},
        **{name: NAME for name in ("list", "offers", "default", "show_lowest", "show_highest")},
        **{name: TEXT for name in ("type", "unit", "conflict", "publish", "style")},
        "decimals": DIGITS,
        "lowest": LIMIT,
        "highest": LIMIT,
        "needed": TRUTH,
    }
)
BLOCK = Shape(
    {
        **{name: KEY for name in ("key", "instances", "beside", "filled", "head")},
        "layout": one_of("across", "down"),
        "states": one_of("below", "beside"),
        **{name: WHOLE for name in ("at", "lower", "room")},
        "rows": ROW,
        "inputs": INPUT,
        "text": list_of(KEY, 1),
        "shade": THREE,
        **{name: TRUTH for name in ("titled", "compact", "heads", "display", "steps")},
    },
    ("key", "instances"),
)
BANDS = tuple(f"band{n}" for n in range(1, 7))
MARKERS = (
    *("dot", "small_dot", "speck", "large_dot", "square", "triangle", "diamond", "cross", "plus"),
    *("grey_dot", "grey_square", "grey_triangle", "grey_diamond"),
    *BANDS,
)
LINES = ("thin", "thick", "heavy", "dashed")
SERIES = Shape(
    {
        **{name: KEY for name in ("across", "up", "name", "labels", "instance", "named")},
        "marker": one_of(*MARKERS),
        "line": one_of(*LINES),
        "centred": TRUTH,
        "size": POSITIVE,
    },
    ("across", "up"),
)
CHART = Shape(
    {
        **{name: KEY for name in ("key", "title", "beside", "across_title", "up_title")},
        **{name: WHOLE for name in ("line", "column")},
        **{name: ABOVE_0 for name in ("width", "height")},
        **{name: TRUTH for name in ("bare", "legend", "alone")},
        **{name: ENDS for name in ("across_limits", "up_limits")},
        "span": POSITIVE,
        "kind": one_of("scatter", "bar"),
        "series": SERIES,
    },
    ("key", "width", "height", "title", "series"),
)
LEVELS = ("stop", "confirm", "open", "soft")
POINT = Shape(
    {"key": KEY, "level": one_of(*LEVELS), "code": WHOLE, "live": TEXT, "cell": KEY, "sentence": TEXT, "hazard": KEY},
    ("key", "level", "live"),
)
KINDS = ("printed", "printed_memory", "by_hand", "derived")
_CHECK = {"of": DOTTED, "expected": NUMBER, "digit": POSITIVE, "kind": one_of(*KINDS), "source": KEY, "unit": TEXT}
CHECK = Shape(_CHECK, tuple(_CHECK))
ROWSET = Shape({"key": KEY, "rows": ROW}, ("key", "rows"))
ROWSETS = Shape({"rowset": ROWSET}, ("rowset",))
CHANGE = Shape({"version": VERSION, "results_change": TRUTH, "text": TEXT}, ("version", "results_change", "text"))
CHANGES = Shape({"version": VERSION, "change": CHANGE}, ("version", "change"))
SOURCE = Shape({name: TEXT for name in ("key", "citation", "serves", "state")}, ("key", "citation", "serves", "state"))
SOURCES = Shape({"source": SOURCE}, ("source",))
WORKBOOK = Shape(
    {
        **{name: Kind(f"a table [{name}]", lambda v: isinstance(v, dict)) for name in ("sides", "head")},
        **{name: TEXT for name in ("reference", "constants", "patterns", "sources")},
        **{name: KEY for name in ("takes_from", "compared", "codes", "edition", "edition_taken", "slack", "once")},
        "retired_codes": list_of(WHOLE, 1),
    },
    (),
)
SIDES = Shape(
    {"keys": list_of(KEY, 2), **{name: KEY for name in ("name", "one", "other", "used", "opening")}},
    ("name", "keys", "one", "used", "opening"),
)
HEAD = Shape({name: KEY for name in ("file", "state", "next")}, ("file", "state", "next"))  # rows in the frozen lines


def sheet_shape(whole: str) -> Shape:
    """Of a sheet; `whole`: what the points of the whole workbook stand under."""
    words: dict[str, Kind | Shape] = {
        "key": KEY,
        "columns": list_of(POSITIVE, 1),
        "serves": KEY,  # what one does on the sheet: its tab has the style tab_…
        **{name: TRUTH for name in ("landscape", "per_side", "one_page")},
        "across": ABOVE_0,
        "frozen": PAIR,  # lines and columns
        "generated": one_of("used", "columns", "constants", "list", "changes", "hazards"),
        "block": BLOCK,
        "rowset": ROWSET,
        "chart": CHART,
        whole: POINT,
        "point": POINT,
        "check": CHECK,
    }
    return Shape(words, ("key", "columns", "serves"))


def list_shape(once: str, owners: Sequence[str]) -> Shape:
    """Of a list of instances; `once`, `owners`: the words for whose it is, of the workbook or of others."""
    words = {
        "per": one_of(once, *owners),
        "keys": list_of(KEY, 1),
        "prefix": KEY,
        "count": WHOLE,
        "apart": TRUTH,
        "long": TRUTH,
    }
    return Shape(words, ("per",))


STYLE = Shape(
    {
        **{name: TRUTH for name in ("bold", "italic", "text_wrap", "shrink", "locked", "sign")},
        **{name: COLOUR for name in ("font_color", "bg_color", "border_color")},
        **{name: WHOLE for name in ("border", "top", "bottom", "left", "right", "indent", "underline")},
        "align": one_of("left", "center", "right"),
        "valign": one_of("top", "vcenter", "bottom"),
        "font_size": POSITIVE,
        "num_format": TEXT,
    },
    (),
)


def demand_shape(file: str, told: str, entry: Any, shape: Shape) -> None:
    """Raises SpecError for the first thing in an entry, or in the entries below it, that is not of the shape.

    `told`: the key that a message names.
    """
    if not isinstance(entry, dict):
        raise SpecError(file, told, f"is no table of entries but {_shown(entry)}", "Write it as a table")
    only(file, told, entry, shape.words)
    demand(file, told, entry, shape.needed)
    for name, value in entry.items():
        kind = shape.words[name]
        if isinstance(kind, Shape):
            _demand_entries(file, told, name, value, kind)
        elif not kind.holds(value):
            raise SpecError(file, told, f"has {_shown(value)} as '{name}'", f"Give {kind.said}")


def _demand_entries(file: str, above: str, name: str, entries: Any, shape: Shape) -> None:
    if not isinstance(entries, list) or not entries:
        raise SpecError(
            file, above, f"has {_shown(entries)} as '{name}'", f"Give a list of entries, or remove '{name}'"
        )
    for number, entry in enumerate(entries, start=1):
        held = entry if isinstance(entry, dict) else {}
        told = next((held[key] for key in ("key", "of", "use", "version") if _shows(held.get(key))), "")
        used = shape is ROW and "use" in held
        demand_shape(file, told or f"{name} {number} of {above}", entry, USE if used else shape)


def demand_tables(file: str, tables: Mapping[str, Any], shape: Shape | Kind) -> None:
    """Raises SpecError unless every name at the top of a file stands for what the shape or kind says."""
    for name, value in tables.items():
        if isinstance(shape, Shape):
            demand_shape(file, name, value, shape)
        elif not shape.holds(value):
            raise SpecError(file, name, f"is {_shown(value)}", f"Give {shape.said}")


def _shows(key: Any) -> bool:
    return isinstance(key, str) and bool(key.strip())


def _shown(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= SHOWN else text[: SHOWN - 1] + "…"
