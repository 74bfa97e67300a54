"""The picture of the trial: how many cones end hyperopic by each rule for mean K, under four meanings of focus."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from builder.engine.told import Told

from .rules import HYPEROPIC, Line

SHADES = ("#0b3c5d", "#3c7fa6", "#c2703d", "#e3ad7f")  # two pupils, two meanings: dark and light of two hues
RULES = ("lowest", "ring", "mean of zones", "back-corrected", "total", "peak")


def draw(lines: Sequence[Line], path: Path) -> None:
    """Bars by rule, a panel for each band of cones. Raises Told without the drawing library."""
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise Told("the picture needs matplotlib: pip install -e '.[pictures]'") from None
    groups = [group for group in dict.fromkeys(line.group for line in lines) if group.startswith("cones")]
    meanings = list(dict.fromkeys(line.meaning for line in lines))
    share = {(line.group, line.meaning, line.rule): 100 * line.hyperopic for line in lines}
    figure = Figure(figsize=(11, 3.4), dpi=110, layout="constrained")
    panels = figure.subplots(1, len(groups), sharey=True, squeeze=False)[0]
    for panel, group in zip(panels, groups, strict=True):
        for at, (meaning, shade) in enumerate(zip(meanings, SHADES, strict=True)):
            heights = [share[group, meaning, rule] for rule in RULES]
            panel.bar([n + 0.2 * at for n in range(len(RULES))], heights, 0.2, label=meaning, color=shade)
        panel.set_title(group, fontsize=10)
        panel.set_xticks([n + 0.3 for n in range(len(RULES))], RULES, rotation=35, ha="right", fontsize=8)
        panel.set_ylim(0, 100)
        panel.spines[["top", "right"]].set_visible(False)
    panels[0].set_ylabel(f"simulated cones beyond {HYPEROPIC:+.2f} D, %", fontsize=9)
    panels[0].legend(fontsize=8, frameon=False, title="pupil, meaning of focus", title_fontsize=8)
    figure.savefig(path, metadata={"Software": None})
