"""The trial as lines to read and as a table to keep; the four meanings of focus always side by side."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from itertools import groupby

from .rules import HYPEROPIC, MYOPIC, Line

CANNOT_SHOW = (
    "What traced eyes cannot show: how a patient picks a refraction, tear film, scars, adaptation, drift, and how "
    "frequent each shape is. They set no goals."
)


def as_csv(lines: Sequence[Line]) -> str:
    """One line for each group, meaning and rule; D to two digits, shares to three."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(Line._fields)
    for line in lines:
        figures = [f"{line.mean:.2f}", f"{line.sd:.2f}", f"{line.hyperopic:.3f}", f"{line.myopic:.3f}"]
        writer.writerow([line.group, line.meaning, line.rule, line.eyes, *figures])
    return text.getvalue()


def report(lines: Sequence[Line]) -> Iterator[str]:
    """A block for each group: rules down, meanings across."""
    yield "Error of the refraction by the rule for mean K, only K erring; the mean of regular eyes is taken off."
    yield f"Mean in D, plus is hyperopic; in brackets the percent beyond {HYPEROPIC:+.2f} and below {MYOPIC:+.2f} D."
    meanings = list(dict.fromkeys(line.meaning for line in lines))
    for group, members in groupby(lines, key=lambda line: line.group):
        by_place = {(line.rule, line.meaning): line for line in members}
        rules = list(dict.fromkeys(rule for rule, _ in by_place))
        yield ""
        yield f"{group}, {by_place[rules[0], meanings[0]].eyes} eyes".ljust(30) + "".join(f"{m:>20}" for m in meanings)
        for rule in rules:
            yield f"  {rule:28}" + "".join(f"{_cell(by_place[rule, meaning]):>20}" for meaning in meanings)
    yield ""
    yield CANNOT_SHOW


def _cell(line: Line) -> str:
    return f"{line.mean + 0.0:+.2f} ({100 * line.hyperopic:.0f}/{100 * line.myopic:.0f})"
