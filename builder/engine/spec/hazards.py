"""The risk file of a workbook: what can go wrong, how it comes about, what controls it, and who bears what is left.

Vocabulary of the open standard for risk management (ISO 14971).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

from builder.engine.spec.errors import SpecError, nearest
from builder.engine.spec.hazard import Hazard
from builder.engine.spec.kinds import ABOVE_0, DOTTED, KEY, TEXT, Kind, list_of, one_of
from builder.engine.spec.model import Point
from builder.engine.spec.reading import read_toml
from builder.engine.spec.shapes import Shape, demand_shape
from builder.engine.spec.words import Words
from builder.engine.spec.workbook import WorkbookSpec

FILE = "hazards.toml"
ANY = "*"
REFUSED = "refused_"  # points that the builder makes of inputs
SEVERITIES = ("negligible", "minor", "serious", "critical")
CITED_TEXT = Kind("a text as in word.key", DOTTED.holds)
TEST_NAME = Kind("the name of a test as file::test", lambda v: isinstance(v, str) and v.count("::") == 1)
VOCABULARY = Shape({name: list_of(KEY, 1) for name in ("groups", "harms", "bearers")}, ("groups", "harms", "bearers"))


def _shape(vocabulary: Mapping[str, Sequence[str]]) -> Shape:
    """Of the file of hazards, whose head says the words that its entries may use."""
    hazard = Shape(
        {
            "key": KEY,
            "number": ABOVE_0,
            "group": one_of(*vocabulary["groups"]),
            "harm": one_of(*vocabulary["harms"]),
            "severity": one_of(*SEVERITIES),
            **{name: list_of(TEXT, 1) for name in ("points", "rows", "constants")},
            "says": list_of(CITED_TEXT, 1),
            "tests": list_of(TEST_NAME, 1),
            "left_to": one_of(*vocabulary["bearers"]),
        },
        ("key", "number", "group", "harm", "severity"),
    )
    return Shape({**VOCABULARY.words, "hazard": hazard}, (*VOCABULARY.needed, "hazard"))


def read_hazards(specs: Path, points: Sequence[Point]) -> tuple[Hazard, ...]:
    """The hazards, group by group, in the order of the file.

    A point that names its hazard is one of those that the hazard names, after them.
    Raises SpecError for a key or number that stands twice, for a point or hazard that is not there, and for a point
    that serves none.
    """
    table = read_toml(specs / FILE)
    demand_shape(FILE, "hazards", {name: table[name] for name in VOCABULARY.words if name in table}, VOCABULARY)
    demand_shape(FILE, "hazards", table, _shape(table))
    found = tuple(_hazard(entry) for entry in table["hazard"])
    for name in ("key", "number"):
        seen: set[Any] = set()
        for hazard in found:
            value = getattr(hazard, name)
            if value in seen:
                raise SpecError(FILE, hazard.key, f"has the {name} {value} of another hazard", "Give it one of its own")
            seen.add(value)
    keys = [point.key for point in points]
    for hazard in found:
        for pattern in hazard.points:
            if not matching(pattern, keys):
                raise SpecError(FILE, hazard.key, f"names the point '{pattern}'", nearest(pattern, keys))
    hazards = {hazard.key: hazard for hazard in found}
    for point in points:
        if point.hazard and point.hazard not in hazards:
            raise SpecError(point.file, point.key, f"names the hazard '{point.hazard}'", nearest(point.hazard, hazards))
    found = tuple(
        replace(hazard, points=hazard.points + tuple(point.key for point in points if point.hazard == hazard.key))
        for hazard in found
    )
    lone = unserved(found, keys)
    for point in points:
        if point.key not in lone:
            continue
        todo = f"Write the key of a hazard of {FILE} into it as `hazard`, or add a hazard that names it"
        raise SpecError(point.file, point.key, "serves no hazard", todo)
    return tuple(sorted(found, key=lambda hazard: table["groups"].index(hazard.group)))


def _hazard(entry: Mapping[str, Any]) -> Hazard:
    given: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in entry.items()}
    return Hazard(**given)


def unserved(hazards: Sequence[Hazard], keys: Sequence[str]) -> list[str]:
    """The keys of points that no hazard names."""
    return [key for key in keys if not any(matching(pattern, [key]) for h in hazards for pattern in h.points)]


def matching(pattern: str, keys: Collection[str]) -> list[str]:
    """The keys that a pattern of a hazard means: `*` stands for any letters."""
    return [key for key in keys if fnmatchcase(key, pattern)]


def controls(hazard: Hazard, points: Sequence[Point]) -> list[tuple[str, list[str]]]:
    """What prevents or shows a hazard, the strongest first: points by their level, rows, constants, texts, tests.

    Each kind that it names as the key of the word that leads it on the sheet, and the keys as the file has them.
    """
    levels = {point.key: point.level for point in points}
    named: dict[str, list[str]] = {level: [] for level in ("stop", "confirm", "open", "soft")}
    for pattern in hazard.points:
        for level in dict.fromkeys(levels[key] for key in matching(pattern, levels)):
            named[level].append(pattern)
    told = {f"control_{level}": patterns for level, patterns in named.items()}
    told |= {"control_rows": list(hazard.rows), "control_memory": list(hazard.constants)}
    told |= {"control_said": list(hazard.says), "control_tests": list(hazard.tests)}
    return [(word, keys) for word, keys in told.items() if keys]


def controls_said(spec: WorkbookSpec, named: Sequence[tuple[str, list[str]]]) -> list[tuple[str, list[str]]]:
    """The same kinds in the words of the sheets, for who reads no keys: sentences of points, labels of rows, texts.

    Numbers from memory are counted, since the sheet of the constants lists them; tests are left to the keys.
    """
    words, told = spec.words, []
    for kind, keys in named:
        if kind == "control_memory":
            marked = {key for key in spec.constants if any(matching(pattern, [key]) for pattern in keys)}
            told.append((kind, [str(sum(spec.constants[key].mark == "M" for key in marked))]))
        elif kind == "control_rows":
            here = [words.label(key) for key in keys if words.has("label", key)]
            elsewhere = [words.get("word", "control_elsewhere")] if len(here) < len(keys) else []
            told.append((kind, [", ".join(dict.fromkeys(here + elsewhere))]))
        elif kind == "control_said":
            told.append((kind, [words.get(*key.split(".")) for key in keys]))
        elif kind != "control_tests":
            told.append((kind, [_point_said(words, key) for key in keys]))
    return told


def _point_said(words: Words, pattern: str) -> str:
    """The sentence of a point; of many points, or of an entry that is refused, what they have in common."""
    if ANY in pattern:
        return words.get("word", "points_" + pattern.replace(ANY, "").strip("_"))
    if words.has("point", pattern):
        return words.get("point", pattern)
    return words.get("word", "points_refused_one") + words.label(pattern.removeprefix(REFUSED))
