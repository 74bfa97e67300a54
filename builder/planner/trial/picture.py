"""The picture of the trial: how many cones end hyperopic by each rule for mean K, under four meanings of focus.

The README's is drawn from the committed table and carries that table's hash as a text of its file.
"""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path

from builder.engine.spec.reading import SPECS
from builder.engine.told import Told

from .rules import HYPEROPIC, Line

SHADES = ("#0b3c5d", "#3c7fa6", "#c2703d", "#e3ad7f")  # two pupils, two meanings: dark and light of two hues
RULES = ("lowest", "ring", "mean of zones", "back-corrected", "total", "peak")


TABLE, PICTURE = SPECS / "clinical" / "rules.csv", SPECS / "clinical" / "cones-by-rule.png"
Bars = Mapping[
    str, Mapping[str, Sequence[float]]
]  # by band of cones and meaning: percent by rule, in the order of RULES


def bars(lines: Sequence[Line]) -> Bars:
    """How high each bar stands (%)."""
    share = {(line.group, line.meaning, line.rule): 100 * line.hyperopic for line in lines}
    groups = [group for group in dict.fromkeys(line.group for line in lines) if group.startswith("cones")]
    meanings = list(dict.fromkeys(line.meaning for line in lines))
    return {g: {m: [share[g, m, rule] for rule in RULES] for m in meanings} for g in groups}


def kept() -> list[Line]:
    """The committed table. Raises OSError."""
    rows = csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines())
    figures = ("mean", "sd", "hyperopic", "myopic")
    return [
        Line(row["group"], row["meaning"], row["rule"], int(row["eyes"]), *(float(row[key]) for key in figures))
        for row in rows
    ]


def digest() -> str:
    """The hash of the committed table, as the picture's file names it."""
    return hashlib.sha256(TABLE.read_bytes()).hexdigest()[:16]


def draw_kept(path: Path = PICTURE) -> None:
    """The README's picture from the committed table. Raises Told without the drawing library."""
    draw(kept(), path, {"Source": f"{TABLE.name} {digest()}"})


def draw(lines: Sequence[Line], path: Path, said: Mapping[str, str] | None = None) -> None:
    """Bars by rule, a panel for each band of cones; `said` goes into the file. Raises Told without the library."""
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise Told("the picture needs matplotlib: pip install -e '.[pictures]'") from None
    shown = bars(lines)
    figure = Figure(figsize=(11, 3.4), dpi=110, layout="constrained")
    panels = figure.subplots(1, len(shown), sharey=True, squeeze=False)[0]
    for panel, (group, by_meaning) in zip(panels, shown.items(), strict=True):
        for at, ((meaning, heights), shade) in enumerate(zip(by_meaning.items(), SHADES, strict=True)):
            panel.bar([n + 0.2 * at for n in range(len(RULES))], heights, 0.2, label=meaning, color=shade)
        panel.set_title(group, fontsize=10)
        panel.set_xticks([n + 0.3 for n in range(len(RULES))], RULES, rotation=35, ha="right", fontsize=8)
        panel.set_ylim(0, 100)
        panel.spines[["top", "right"]].set_visible(False)
    panels[0].set_ylabel(f"simulated cones beyond {HYPEROPIC:+.2f} D, %", fontsize=9)
    panels[0].legend(fontsize=8, frameon=False, title="pupil, meaning of focus", title_fontsize=8)
    figure.savefig(path, metadata={"Software": None, **(said or {})})
