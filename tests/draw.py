"""Draws states and compares the reference with the cells in each: `python -m tests.draw 2000 [--from 0]`.

`--missing`: eyes at a threshold, exactly or a last digit either side, with each input missing in turn.
`--engine`: the cells as that program computes them, instead of our own witness.
What it finds is told as by `tests.agree`, with the fewest changes that still make it differ; before it, the comparisons
that only the last digits of a number decided. Exit 1 if any cell differs.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import nullcontext
from pathlib import Path

from builder.engine.dump import name_of
from builder.engine.model import Model, load_model
from builder.engine.witness.workbook import Witness
from tests.support.asked import ENGINES, Asked, asked, together
from tests.support.drawn_states import Drawing, Drawn, Missing
from tests.support.near import Near, watched
from tests.support.witnesses import Compared, compare, witness
from tests.support.workbooks import at, case_files, expected

AT_ONCE = 100  # states that the reference computes together


def draw(
    model: Model,
    seen: Sequence[Asked],
    numbers: Sequence[int],
    found: Sequence[Compared],
    drawing: Drawing | None = None,
) -> dict[str, Drawn]:
    """Compares the states of these numbers, in each witness; those of one case follow each other. By name."""
    drawing = drawing or Drawing(model)
    states = sorted((drawing.state(number) for number in numbers), key=lambda state: (state.base, state.number))
    for start in range(0, len(states), AT_ONCE):
        part = states[start : start + AT_ONCE]
        typed = {state.name: state.typed() for state in part}
        wanted = expected(model, list(typed.values()))
        for one, into in zip(seen, found, strict=True):
            together(one, list(typed.values()))
            compare(model, typed, one, into, wanted=wanted)
    return {state.name: state for state in states}


def fewest(model: Model, seen: Asked, state: Drawn) -> Drawn:
    """The state with only those changes without which nothing would differ."""
    at_change = 0
    while at_change < len(state.changes):
        typed = state.typed(without=at_change)
        if compare(model, {state.name: typed}, seen).wrong:
            kept = state.changes[:at_change] + state.changes[at_change + 1 :]
            state = Drawn(state.number, state.base, kept)
        else:
            at_change += 1
    return state


def told(model: Model, seen: Asked, found: Compared, states: dict[str, Drawn]) -> Iterator[str]:
    """The finding, and what must be typed for each of the states named in it."""
    yield from found.told(model)
    slots = {slot.place: slot for slot in model.layout.slots}
    files = case_files()
    for name in dict.fromkeys(difference.case for difference in found.first.values()):
        state = fewest(model, seen, states[name])
        changed = "typed in it:" if state.changes else "as it is"
        yield f"{name} ({files[state.base].parent.name}/{state.base}.toml), {changed}"
        for place, value in state.changes:
            yield f"    {name_of(slots[place])} {'!'.join(at(model, place))} = {value!r}"


def _drawn(
    model: Model,
    seen: Asked,
    options: argparse.Namespace,
    found: Compared,
    states: dict[str, Drawn],
    drawing: Drawing,
) -> None:
    """Draws and compares as many as are asked for, and says from time to time how many."""
    for start in range(options.first, options.first + options.count, 1000):
        numbers = range(start, min(start + 1000, options.first + options.count))
        states.update(draw(model, [seen], numbers, [found], drawing))
        print(f"{len(states):,} states, {found.cells:,} cells, {len(found.spoilt)} states differ", file=sys.stderr)


def main(arguments: Sequence[str] | None = None) -> int:
    """0: all agree; 1: some cells differ."""
    parser = argparse.ArgumentParser(prog="python -m tests.draw", description=__doc__)
    parser.add_argument("count", type=int)
    parser.add_argument("--from", dest="first", type=int, default=0, help="the number of the first state")
    parser.add_argument("--engine", choices=ENGINES, default="cells")
    parser.add_argument("--missing", action="store_true", help="thresholds, each input missing in turn")
    options = parser.parse_args(arguments)
    model, begun, found, states = load_model(), time.monotonic(), Compared(), {}
    drawing = Missing(model) if options.missing else Drawing(model)
    home = tempfile.TemporaryDirectory(prefix="drawn-")
    seen: Asked = witness() if options.engine == "cells" else asked(options.engine, model, Path(home.name))
    with home:
        with watched(model, seen) if isinstance(seen, Witness) else nullcontext(Near()) as near:
            _drawn(model, seen, options, found, states, drawing)
        if near.rows:
            print(
                "Decided by the last digits, so let the formula have slack (rounding_slack):",
                *near.told(model),
                sep="\n    ",
            )
        print(*told(model, seen, found, states), sep="\n", end="\n" if found.wrong else "")
    verdict = "DIFFER" if found.wrong else "agree"
    print(f"{len(states):,} drawn states, {found.cells:,} cells, {time.monotonic() - begun:.0f} s: {verdict}")
    return 1 if found.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
