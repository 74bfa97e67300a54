"""`python -m tests.slips [EACH]`: plays the whole catalogue, each slip in up to EACH right eyes (30), and prints it.

`--engine`: has an engine compute the spoilt cases and compares every cell.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

from builder.engine.model import load_model
from tests.slips.catalogue import CATALOGUE
from tests.slips.played import in_cells, play, spoil
from tests.slips.right import right_cases
from tests.support.asked import ENGINES, asked

EACH, COSTLY = 30, 1.0  # D


def main(each: int) -> None:
    """Prints a line a slip, the shares, and what was not noticed and costs more than 1 D."""
    model = load_model()
    rights = right_cases(model)
    tallies = [tally for tally in play(model, rights, list(CATALOGUE), each) if tally.played]
    for tally in tallies:
        losses = sorted(tally.losses)
        lost = f"; not noticed: median {losses[len(losses) // 2]:.2f} D, worst {losses[-1]:.2f} D" if losses else ""
        by = ", ".join(sorted(tally.by, key=lambda key: -tally.by[key])[:3])
        print(f"{tally.name}: {tally.caught} of {tally.played} noticed, {tally.stopped} stopped ({by}){lost}")
    played, caught = sum(t.played for t in tallies), sum(t.caught for t in tallies)
    stopped, losses = sum(t.stopped for t in tallies), [loss for t in tallies for loss in t.losses]
    costly = [loss for loss in losses if loss > COSTLY]
    print(f"{len(tallies)} slips over {len(rights)} right cases: {played} played,")
    print(f"{caught} noticed ({caught / played:.0%}),")
    print(f"{stopped} stopped; not noticed {played - caught}, of these over {COSTLY} D: {len(costly)},")
    print(f"the worst {max(losses, default=0):.1f} D")
    for tally in sorted(tallies, key=lambda t: -t.worst):
        if tally.worst > COSTLY:
            over = sum(loss > COSTLY for loss in tally.losses)
            print(
                f"left to the clinic: {tally.name}: {over} of {tally.played} over {COSTLY} D, worst {tally.worst:.1f} D"
            )


def compared(each: int, engine: str) -> int:
    """Prints which cells of the spoilt cases a program has otherwise than the reference; 1 if any."""
    model, begun, names = load_model(), time.monotonic(), list(CATALOGUE)
    spoilt = spoil(right_cases(model), names, each)
    with tempfile.TemporaryDirectory(prefix="slips-") as name:
        seen = asked(engine, model, Path(name))
        found = in_cells(model, spoilt, names, seen)
    print(*found.told(model), sep="\n", end="\n" if found.wrong else "")
    verdict = "DIFFER" if found.wrong else "agree"
    print(f"{len(spoilt)} spoilt cases, {found.cells:,} cells, {time.monotonic() - begun:.0f} s: {verdict}")
    return 1 if found.wrong else 0


if __name__ == "__main__":
    parser = argparse.ArgumentParser(prog="python -m tests.slips", description=__doc__)
    parser.add_argument("each", type=int, nargs="?", default=EACH)
    parser.add_argument("--engine", choices=ENGINES)
    options = parser.parse_args()
    sys.exit(compared(options.each, options.engine) if options.engine else main(options.each))
