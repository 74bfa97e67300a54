"""Meets every comparison that has slack exactly and compares the reference with the cells there: `python -m tests.hit`.

`--keep` writes the ways that were found to tests/met.csv, of which the suite goes a part again. Exit 1: a cell differs.
"""

from __future__ import annotations

import argparse
import csv
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from builder.engine.dump import name_of
from builder.engine.model import Model, load_model
from tests.support.hit import SLACK_ROW, Site, Way, grain_of, met, nearest, recorded, states_of, ways
from tests.support.witnesses import Compared, compare, witness
from tests.support.workbooks import case_files, typed_case

KEPT = Path(__file__).with_name("met.csv")
EXCEPT: dict[Site, str] = {  # not judged: why
    ("formula_lacks", 1): "the root of what arithmetic leaves of 0",
    ("haigis_counts", 1): "a lens less than a step behind the cornea, where only the reference asks whether it can lie",
    ("haigis_counts", 2): "likewise",
    ("lens_position", 1): "likewise",
    ("position_in_reach", 1): "likewise",
    ("position_in_reach", 2): "likewise",
    ("raw_effective_position", 1): "the root of what arithmetic leaves of 0",
    ("srkt_dome_height", 1): "likewise",
    ("state_incision_sia", 1): "an incision effect of 1e-9 D, which the cells take for none",
    ("toric_in_sulcus", 2): "a lens of a cylinder of 1e-9 D",
}
FULL = 25  # typed cells of a case that is worth trying
AT_ONCE = 16  # comparisons whose states the reference computes together


def search(model: Model, bases: Sequence[str]) -> tuple[list[Way], set[Site]]:
    """A way to meet each comparison, and those that no way was found for."""
    seen_by = witness()
    with recorded(model, seen_by) as seen:
        tried = nearest([way for base in bases for way in ways(model, seen_by, seen, base)])
        found = [next(filter(None, (met(seen_by, seen, way) for way in some)), None) for some in tried.values()]
        made = {(model.compiled[place].slot.row.key, n) for place, gaps in seen.gaps.items() for n in range(len(gaps))}
    hit = [way for way in found if way is not None]
    return hit, made - {way.site for way in hit}


def again(model: Model, ways: Sequence[Way]) -> list[Way]:
    """Ways that were kept, gone to their ends anew: other constants and formulas move the limits."""
    with recorded(model, witness()) as seen:
        return [way for way in (met(witness(), seen, way) for way in ways) if way is not None]


def judged(model: Model, hit: Sequence[Way]) -> Compared:
    """The reference against the cells in all states of these ways."""
    found = Compared()
    hit = [way for way in hit if way.site not in EXCEPT]
    for start in range(0, len(hit), AT_ONCE):
        states = {name: typed for way in hit[start : start + AT_ONCE] for name, typed in states_of(way).items()}
        compare(model, states, witness(), found)
    return found


def never_made(model: Model, sites: Sequence[Site]) -> list[str]:
    """Rows with slack that no case brings to compare two numbers."""
    rows = {
        compiled.slot.row.key
        for compiled in model.compiled.values()
        if SLACK_ROW in (compiled.slot.row.formula_of(compiled.slot.instance) or "")
    }
    return sorted(rows - {key for key, _ in sites})


def write(model: Model, hit: Sequence[Way]) -> None:
    """Keeps the ways, in words that a change of the layout does not touch."""
    names = {slot.place: name_of(slot) for slot in model.layout.slots}
    with KEPT.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(("row", "comparison", "case", "input", "value", "slope", "cell"))
        for way in sorted(hit, key=lambda way: way.site):
            numbers = f"{way.value!r}", f"{way.slope:.6g}"
            table.writerow((*way.site, way.base, names[way.place], *numbers, names[way.at]))


def kept(model: Model) -> Iterator[Way]:
    """The ways that were kept, but those whose row, case or input is no longer there."""
    places = {name_of(slot): slot for slot in model.layout.slots}
    with KEPT.open(encoding="utf-8") as file:
        for line in csv.DictReader(file):
            typed, cell = places.get(line["input"]), places.get(line["cell"])
            if typed and cell and line["case"] in case_files():
                site, numbers = (line["row"], int(line["comparison"])), (float(line["value"]), float(line["slope"]))
                yield Way(0.0, site, line["case"], typed.place, *numbers, cell.place, grain_of(typed))


def main(arguments: Sequence[str] | None = None) -> int:
    """0: reference and cells agree at every limit that was met; 1: some cells differ."""
    parser = argparse.ArgumentParser(prog="python -m tests.hit", description=__doc__)
    parser.add_argument("--keep", action="store_true")
    parser.add_argument("--again", action="store_true", help="go the ways that were kept, and seek no others")
    options = parser.parse_args(arguments)
    model, begun = load_model(), time.monotonic()
    if options.again:
        found = judged(model, again(model, list(kept(model))))
        print(*found.told(model), sep="\n")
        return 1 if found.wrong else 0
    bases = [name for name in case_files() if len(typed_case(name)) > FULL]
    hit, missed = search(model, bases)
    found = judged(model, hit)
    print(*found.told(model), sep="\n")
    print(*(f"not met: {key}, comparison {number}" for key, number in sorted(missed)), sep="\n")
    print(*(f"not judged: {key}, comparison {n}: {why}" for (key, n), why in EXCEPT.items()), sep="\n")
    silent = never_made(model, [*(way.site for way in hit), *missed])
    print(f"never compared in a case: {', '.join(silent) or 'none'}")
    print(f"{len(hit)} of {len(hit) + len(missed)} comparisons met in {len({way.base for way in hit})} cases,", end=" ")
    print(f"{found.cells:,} cells compared, {found.wrong} differ, {time.monotonic() - begun:.0f} s")
    if options.keep:
        write(model, hit)
    return 1 if found.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
