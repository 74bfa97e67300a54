"""python -m tests.campaign: hostile workbooks through the programs, damaged files through the commands.

Prints what was tried, refused, released wrongly and shown as an error; status 1 if anything is as it should not be.
"""

from __future__ import annotations

import argparse
import time

from builder.engine.model import load_model
from tests.campaign.hostile import PLAUSIBLE, SHARES, draw
from tests.campaign.judging import Counts
from tests.campaign.programs import count, sample
from tests.campaign.returned import found_in_returned

SHOWN = 20  # faults of one sort that are told


def tell(engine: str, counts: Counts, seconds: float) -> bool:
    """Prints the figures of one program; whether all is well."""
    sorts = {
        "released wrongly": counts.released_wrongly,
        "input not named": counts.unnamed,
        "errors shown": counts.errors,
        "cells not as the reference has them": counts.wrong,
    }
    must = {kind: tried for kind, tried in counts.tried.items() if kind not in PLAUSIBLE}
    refused = sum(counts.withheld[kind] for kind in must)
    told = ", ".join(f"{name} {len(lines)}" for name, lines in sorts.items())
    print(
        f"{engine}: {counts.total} tried; {sum(must.values())} to be refused, {refused} refused; {told};"
        f" {seconds:.0f} s"
    )
    for kind in SHARES:
        if counts.tried[kind]:
            tried, withheld, warned = counts.tried[kind], counts.withheld[kind], counts.warned[kind]
            print(
                f"  {kind}: {tried}, withheld {withheld}, warned {warned}, taken {tried - withheld - warned}",
                flush=True,
            )
    for name, lines in sorts.items():
        for line in lines[:SHOWN]:
            print(f"  {name}: {line}")
    return refused == sum(must.values()) and not any(sorts.values())


def main() -> int:
    """Runs the campaign."""
    options = argparse.ArgumentParser(prog="python -m tests.campaign", description=__doc__)
    options.add_argument("--gnumeric", type=int, default=2000, help="hostile workbooks")
    options.add_argument("--libreoffice", type=int, default=200, help="of them also in LibreOffice")
    options.add_argument("--formulas", type=int, default=25, help="of them also in the library formulas")
    options.add_argument("--returned", type=int, default=10, help="of each kind that verify or gather must find")
    options.add_argument("--seed", type=int, default=7)
    chosen = options.parse_args()
    model = load_model()
    books = draw(model, chosen.gnumeric, chosen.seed)
    well = True
    for engine in ("gnumeric", "libreoffice", "formulas"):
        number = getattr(chosen, engine)
        taken = books if engine == "gnumeric" else sample(books, engine, number)
        if number:
            started = time.monotonic()
            counts = count(model, engine, taken)
            well = tell(engine, counts, time.monotonic() - started) and well
    looked, missed = found_in_returned(model, books, chosen.returned)
    print(
        f"verify and gather: {sum(looked.values())} returned files, changed cells not named {len(missed)}",
        *missed,
        sep="\n  ",
    )
    return 0 if well and not missed else 1


if __name__ == "__main__":
    raise SystemExit(main())
