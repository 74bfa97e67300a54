"""The planned eyes as lines to read and as a table to keep."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence

from .eyes import MEANINGS
from .judged import FORMULA, GAIN, ODDS, SAID, SOURCE, TORIC, Figure

TITLES = {
    FORMULA: "The plan's lens, by the formula in lead and by each formula: error of the refraction, D or share",
    ODDS: "Odds: what the sheet of the odds said on the mean, and the share of eyes that did it",
    SAID: "Parts of the error, D: what was said, and what was seen",
    TORIC: f"Cylinder left, D, by verdict; gains, loses: by {GAIN:g} D or more against a spherical lens",
    SOURCE: "Corneal astigmatism missed by source, D, median length of the vector",
}


def planned_report(figures: Sequence[Figure]) -> Iterator[str]:
    """A block for each table: groups and figures down, meanings across."""
    for table, title in TITLES.items():
        yield ""
        yield title
        rows: dict[tuple[str, str, str, int], dict[str, float]] = {}
        for one in figures:
            if one.table == table:
                rows.setdefault((one.group, one.what, one.figure, one.eyes), {})[one.meaning] = one.value
        shown = MEANINGS if table != SAID else ("all",)
        yield f"  {'':66}" + "".join(f"{meaning:>16}" for meaning in shown)
        for (group, what, figure, eyes), by_meaning in rows.items():
            cells = "".join(f"{by_meaning[meaning] + 0.0:>16.2f}" for meaning in shown)
            yield f"  {group + ' (' + str(eyes) + ')':34}{what:22}{figure:10}{cells}"


def planned_csv(figures: Sequence[Figure]) -> str:
    """One line for each figure, to three digits."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(Figure._fields)
    writer.writerows([*one[:5], f"{one.value:.3f}", one.eyes] for one in figures)
    return text.getvalue()
