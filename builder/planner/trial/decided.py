"""What traced eyes decide of each marked rule: the table of rules, its committed figures, and both as lines to read."""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Any, NamedTuple

from builder.engine.spec.reading import SPECS

from .bench import Bench, Entry, Tried
from .eyes import MEANINGS
from .measures import MEASURES

RULES = tuple(SPECS / "clinical" / name for name in ("decided.toml", "decided_fit.toml"))
FIGURES = SPECS / "clinical" / "decided.csv"
SITTINGS = ((2000, 7), (4000, 8))  # eyes and seed, as the committed figures have them: another seed, twice the eyes
ALIKE = ("totals", "unlike_zones", "parts", "odds")  # measures whose lines may be one for all meanings
DECISIONS = ("confirmed", "changed", "undecidable")
NOTE = "# By python -m builder optics --decide, of invented eyes; holds: under each of the four meanings, y or n."


class Row(NamedTuple):
    """A committed line: rule, what, seed, eyes, four values, and under which meanings the rule holds."""

    rule: str
    what: str
    seed: int
    eyes: int
    values: tuple[float, ...]
    holds: tuple[bool, ...]


@cache
def rules() -> tuple[dict[str, Any], ...]:
    """The table of rules. Raises OSError, tomllib.TOMLDecodeError."""
    return tuple(rule for path in RULES for rule in tomllib.loads(path.read_text(encoding="utf-8"))["rule"])


def decide(found: Bench) -> dict[str, Tried]:
    """Every rule that the bench can try."""
    return {entry["key"]: MEASURES[entry["measure"]](found, entry) for entry in rules() if "measure" in entry}


def agrees(entry: Entry, tried: Sequence[Tried]) -> bool:
    """Whether the decision follows: confirmed or changed only where all meanings in all sittings hold."""
    holds = all(all(one.holds) for one in tried)
    return holds == (entry["decision"] != "undecidable")


def as_csv(by_seed: Mapping[int, Mapping[str, Tried]]) -> str:
    """The figures of each sitting as comma-separated text."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["rule", "what", "seed", "eyes", *MEANINGS, "holds"])
    for seed, tried in by_seed.items():
        for key, one in tried.items():
            holds = "".join("yn"[not held] for held in one.holds)
            for line in one.lines:
                writer.writerow([key, line.what, seed, line.eyes, *(f"{v + 0.0:.3f}" for v in line.values), holds])
    return f"{NOTE}\n{text.getvalue()}"


def read_figures() -> list[Row]:
    """The committed figures. Raises OSError."""
    lines = csv.DictReader(FIGURES.read_text(encoding="utf-8").splitlines()[1:])
    return [
        Row(
            line["rule"],
            line["what"],
            int(line["seed"]),
            int(line["eyes"]),
            tuple(float(line[meaning]) for meaning in MEANINGS),
            tuple(held == "y" for held in line["holds"]),
        )
        for line in lines
    ]


def largest_change(rows: Sequence[Row]) -> tuple[float, Row]:
    """By how much a group's mean moves from the first seed to the other, at most, and where."""
    means = [row for row in rows if row.what.endswith("mean")]
    other = {(row.rule, row.what): row for row in means if row.seed == SITTINGS[1][1]}
    moved = [
        (max(abs(a - b) for a, b in zip(row.values, other[row.rule, row.what].values, strict=True)), row)
        for row in means
        if row.seed == SITTINGS[0][1]
    ]
    return max(moved, key=lambda pair: pair[0])


def as_table() -> Iterator[str]:
    """The rules with the committed line that each shows, both sittings, as DEVELOPERS.md prints them."""
    values = {(row.rule, row.what, row.seed): row.values for row in read_figures()}
    first, other = (f"{eyes:,} eyes, seed {seed}" for eyes, seed in SITTINGS)
    yield f"| rule | mark | decided | what is shown | {first} | {other} |"
    yield "| --- | --- | --- | --- | --- | --- |"
    for entry in rules():
        shown = ["", "", ""]
        if "shows" in entry:
            cells = [values[entry["key"], entry["shows"], seed] for _, seed in SITTINGS]
            alike = [each[:1] if len(set(each)) == 1 and entry["measure"] in ALIKE else each for each in cells]
            shown = [entry["shows"], *(" / ".join(f"{value + 0.0:.2f}" for value in each) for each in alike)]
        yield f"| {entry['rule']} | {entry['mark']} | {entry['decision']} | {' | '.join(shown)} |"


def report(tried: Mapping[str, Tried]) -> Iterator[str]:
    """Each rule with its decision, why, and the figures of these eyes."""
    yield "What these eyes decide of each marked rule: " + " / ".join(MEANINGS)
    for entry in rules():
        yield ""
        yield f"{entry['decision'].upper()} [{entry['mark']}] {entry['rule']}"
        yield f"  {entry['why']}"
        for line in tried[entry["key"]].lines if entry["key"] in tried else ():
            cells = "".join(f"{value + 0.0:>9.2f}" for value in line.values)
            yield f"  {line.what + ' (' + str(line.eyes) + ')':56}{cells}"
    change, row = largest_change(read_figures())
    yield ""
    most = f"{change:.2f} D at most ({row.rule}: {row.what})"
    yield f"Seed {SITTINGS[1][1]} and twice the eyes move a group's mean by {most}"
