"""python -m tests.mutation: one token of each of many spec formulas changed; is every change noticed?

First in the case files, then in the spoilt workbooks of tests/test_bad_input.py, both as Gnumeric computes them and
compared as the tests compare them; in rows that only display, by what tests/displays says. A survivor must be explained
in explained.toml; status 1 if one is not.
"""

from __future__ import annotations

import argparse
import re
import time
import tomllib
from collections.abc import Mapping
from pathlib import Path

from builder.engine.model import Model, load_model
from tests.mutation.mutants import Mutant, draw, sites
from tests.mutation.trial import Trial
from tests.support.spoilt import drawn_workbooks, swept_workbooks
from tests.support.workbooks import Typed, case_files, typed_case

EXPLAINED = Path(__file__).with_name("explained.toml")


def spoilt_workbooks(model: Model) -> Mapping[str, Typed]:
    """What is typed into the workbooks of tests/test_bad_input.py, the swept ones first."""
    books = [*swept_workbooks(model), *drawn_workbooks(model)]
    return {f"spoilt {n}": {**typed_case(book.base), **book.pasted(model)} for n, book in enumerate(books)}


def explained(mutant: Mutant) -> str:
    """Why a survivor changes no result that is compared; empty when explained.toml does not say."""
    with EXPLAINED.open("rb") as handle:
        for entry in tomllib.load(handle)["survivor"]:
            if re.fullmatch(entry["mutant"], mutant.name) and re.search(entry.get("formula", ""), mutant.formula):
                return str(entry["why"])
    return ""


def main() -> int:
    """Prints the figures and the survivors."""
    options = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    options.add_argument("--mutants", type=int, default=300)
    options.add_argument("--seed", type=int, default=8)
    options.add_argument("--cases-only", action="store_true", help="without the spoilt workbooks")
    options.add_argument("--displays", action="store_true", help="one mutant of every row that only displays")
    chosen = options.parse_args()
    model, started = load_model(), time.monotonic()
    drawn = draw(model, len(sites(model)) if chosen.displays else chosen.mutants, chosen.seed)
    trial = Trial([one for one in drawn if one.site.row.display or not chosen.displays], {})
    refused = sum(bool(mutant.refused) for mutant in trial.mutants)
    trial.run_displays(model)
    by_hand = len(trial.noticed)
    trial.run(model, {name: typed_case(name) for name in ("blank", *case_files())})
    by_cases = len(trial.noticed) - by_hand
    if not chosen.cases_only:
        trial.run(model, spoilt_workbooks(model))
    left = [trial.mutants[n] for n in trial.left]
    unexplained = [mutant for mutant in left if not explained(mutant)]
    print(
        f"{len(trial.mutants)} mutants of {len(sites(model))} formulas, seed {chosen.seed}: {refused} refused by the"
        f" build, {by_hand} noticed by the written displays, {by_cases} by the case files,"
        f" {len(trial.noticed) - by_cases - by_hand} by the spoilt workbooks,"
        f" {len(left) - len(unexplained)} survivors explained, {len(unexplained)} not;"
        f" {time.monotonic() - started:.0f} s"
    )
    for mutant in left:
        print(f"- {mutant.name}\n    {mutant.formula}\n    {explained(mutant) or 'NOT EXPLAINED'}")
    return 1 if unexplained else 0


if __name__ == "__main__":
    raise SystemExit(main())
