"""Reads one spec file and the constants; a mistake in a file is a SpecError that names file and key."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from builder.engine.spec.errors import SpecError, nearest

SPECS = Path(__file__).resolve().parents[3] / "specs"
MARKS = {"P": "published", "M": "published, from memory", "C": "common practice", "S": "a setting of ours"}
CITED = ("P", "M")  # marks that speak of a publication, which must then be named
CONSTANT = ("key", "value", "unit", "mark", "source")


@dataclass(frozen=True)
class Constant:
    """A number with unit, mark (a key of MARKS) and source; it is a cell of its own."""

    key: str
    value: float
    unit: str
    mark: str
    source: str
    decimals: int


def read_toml(path: Path) -> dict[str, Any]:
    """One spec file; a syntax mistake is told with file and place. Raises SpecError."""
    try:
        with path.open("rb") as handle:
            return tomllib.load(handle)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        todo = "Mend the line; a key stands once in its table, an inline table on one line"
        raise SpecError(path.name, "syntax", str(error), todo) from None


def only(file: str, key: str, table: Mapping[str, Any], allowed: Iterable[str]) -> None:
    """Refuses an entry that holds a word that is not allowed."""
    for name in table:
        if name not in allowed:
            raise SpecError(file, key, f"has the unknown entry '{name}'", f"Remove it; {nearest(name, allowed)}")


def demand(file: str, key: str, table: Mapping[str, Any], wanted: Iterable[str]) -> None:
    """Refuses an entry that lacks a word that it must have."""
    for name in wanted:
        if name not in table:
            raise SpecError(file, key, f"has no '{name}'", f"Give {', '.join(wanted)}")


def read_constants(path: Path) -> list[dict[str, Any]]:
    """The entries of the file of constants, each key once, with number, unit, mark and, where it is published, source.

    Raises SpecError.
    """
    seen: set[str] = set()
    entries: list[dict[str, Any]] = read_toml(path).get("constant", [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise SpecError(path.name, "constant", "is no list of entries", "Write each below a line [[constant]]")
    for entry in entries:
        key, value = str(entry.get("key", "?")), entry.get("value")
        demand(path.name, key, entry, CONSTANT)
        only(path.name, key, entry, CONSTANT)
        if key in seen:
            raise SpecError(path.name, key, "is given twice", "Keep one entry")
        seen.add(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise SpecError(path.name, key, f"has the value {value!r}, which is no number", "Write it without quotes")
        for name in ("key", "unit", "mark", "source"):
            if not isinstance(entry[name], str):
                raise SpecError(path.name, key, f"has a {name} that is no text", 'Write it in quotes; "" for none')
        if entry["mark"] not in MARKS:
            known = ", ".join(f"{mark} ({meaning})" for mark, meaning in MARKS.items())
            raise SpecError(path.name, key, f"has the unknown mark {entry['mark']!r}", f"Use one of {known}")
        if entry["mark"] in CITED and not entry["source"]:
            wrong = f"has the mark {entry['mark']} ({MARKS[entry['mark']]}) but no source"
            raise SpecError(path.name, key, wrong, "Cite a key of sources.toml, or mark it C or S")
    return entries
