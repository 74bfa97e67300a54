"""Traces eyes, plans them, and tells what came of each rule."""

from __future__ import annotations

from pathlib import Path

from builder.engine.model import load_model
from builder.engine.told import Told
from builder.planner.optics.corneas import kinds
from builder.planner.trial import decided, eyes, judged, picture, planned, told
from builder.planner.trial.before import before_and_after
from builder.planner.trial.bench import bench
from builder.planner.trial.report import as_csv, report
from builder.planner.trial.rules import table, try_rules


def run(
    count: int,
    seed: int,
    output: Path | None = None,
    folder: Path | None = None,
    keep: bool = False,
    decide: bool = False,
) -> None:
    """Prints the tables of so many eyes and writes them where asked.

    `keep` keeps the eyes for the tests instead, `decide` the figures of the marked rules and of the README's picture.
    Raises Told when not every kind of cornea gets an eye.
    """
    if count < len(kinds()):
        raise Told(f"--eyes {count}: the corneas are of {len(kinds())} kinds; ask for one eye of each or more")
    if decide:
        _decide()
        return
    traced = eyes.trace(count, seed)
    if keep:
        eyes.KEPT.write_text(eyes.as_table(traced), encoding="utf-8")
        return
    lines = list(table(try_rules(count, seed)))
    found = bench(traced, planned.plan(traced, load_model()))
    figures = list(judged.judge(found.planned))
    decisions = [*decided.report(decided.decide(found)), *before_and_after(found)]
    print(*told.planned_report(figures), "", *decisions, "", *report(lines), sep="\n")
    if output:
        output.write_text(as_csv(lines), encoding="utf-8")
    if folder:
        folder.mkdir(exist_ok=True)
        (folder / "rules.csv").write_text(as_csv(lines), encoding="utf-8")
        (folder / "planned.csv").write_text(told.planned_csv(figures), encoding="utf-8")
        (folder / "decisions.txt").write_text("\n".join([*decisions, ""]), encoding="utf-8")
        picture.draw(lines, folder / "hyperopic.png")


def _decide() -> None:
    """The committed figures: both sittings, and the table behind the README's picture."""
    model = load_model()
    by_seed = {}
    for count, seed in decided.SITTINGS:
        traced = eyes.trace(count, seed)
        by_seed[seed] = decided.decide(bench(traced, planned.plan(traced, model)))
    decided.FIGURES.write_text(decided.as_csv(by_seed), encoding="utf-8")
    picture.TABLE.write_text(as_csv(list(table(try_rules(*decided.SITTINGS[0])))), encoding="utf-8")
