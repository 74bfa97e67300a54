"""Whether the reference and the cells' own formulas agree: `python -m tests.agree [CASE.toml ...]`.

Without a case: all case files, the blank workbook, the blank Spanish one and registers of twelve lines. It tells the
cells that differ though all that they read is the same, with keys, formulas and what they read. Exit 1 if any does.
`--engine ironcalc | formualizer | formulas | libreoffice | gnumeric`: the cells as that program computes them, instead
of our own witness; its last line is that of the table in DEVELOPERS.md.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from builder.engine.exchange.office import EngineFailed, EngineMissing
from builder.engine.model import load_model
from builder.engine.spec import SpecError
from builder.engine.spec.reading import SPECS
from builder.engine.spec.words import ENGLISH, languages
from builder.planner.books import PLAN, REGISTER
from builder.planner.exchange.casefile import CaseError, read_case
from tests.support.asked import ENGINES, asked, named, together
from tests.support.witnesses import SHORT, Compared, compare, short_registers, witness
from tests.support.workbooks import Typed, case_files, expected, typed_case

Group = tuple[str, str, int | None, dict[str, Typed]]  # workbook, language, lines, states
BLANK, OWN = "blank", "cells"


def _plans(paths: Sequence[Path], language: str) -> dict[str, Typed]:
    model = load_model(PLAN, language)
    if paths:
        return {path.stem: read_case(model, path) for path in paths}
    if language == ENGLISH:
        return {name: typed_case(name) for name in (BLANK, *case_files())}
    return {BLANK: {}, **{name: read_case(model, path) for name, path in list(case_files().items())[-4:]}}


def _agree(group: Group, engine: str, folder: Path) -> Compared:
    (name, language, lines, states), begun = group, time.monotonic()
    model = load_model(name, language, lines=lines)
    seen = witness(name, language, lines) if engine == OWN else asked(engine, model, folder)
    wanted = expected(model, list(states.values()))
    together(seen, list(states.values()))
    found = compare(model, states, seen, wanted=wanted)
    print(*found.told(model), sep="\n", end="\n" if found.wrong else "")
    for (_, key), told in found.apart.items() if engine == OWN else ():
        print(f"{key} may show another last digit before computing than after: {told}; round its row (`steady`)")
    seconds = time.monotonic() - begun
    verdict = "DIFFER" if found.wrong else "agree"
    print(f"{name} ({language}): {len(states)} states, {found.cells:,} cells, {seconds:.1f} s: {verdict}", flush=True)
    return found


def _groups(options: argparse.Namespace) -> Iterator[Group]:
    for language in (options.language,) if options.language else languages(SPECS):
        if language == ENGLISH or options.language or not options.cases:
            yield PLAN, language, None, _plans(options.cases, language)
    if not (options.cases or options.language):
        yield REGISTER, ENGLISH, SHORT, short_registers(load_model(REGISTER, lines=SHORT))


def main(arguments: Sequence[str] | None = None) -> int:
    """0: all agree; 1: some cells differ; 2: a case, a spec or a program is at fault."""
    parser = argparse.ArgumentParser(prog="python -m tests.agree", description=__doc__)
    parser.add_argument("cases", nargs="*", type=Path, metavar="CASE.toml")
    parser.add_argument("--language", choices=languages(SPECS), help="only the planning workbook in this language")
    parser.add_argument("--engine", choices=ENGINES, default=OWN, help="who computes the cells")
    options = parser.parse_args(arguments)
    told, cells, wrong = [], 0, 0
    try:
        for group in _groups(options):
            with tempfile.TemporaryDirectory(prefix="agree-") as folder:
                found = _agree(group, options.engine, Path(folder))
            told.append(f"{len(group[3])}, {found.cells:,}")
            cells, wrong = cells + found.cells, wrong + found.wrong
        if options.engine != OWN:
            print("", named(options.engine), *told, f"{cells:,}", f"{wrong:,}", "", sep=" | ")
    except (CaseError, SpecError, EngineMissing, EngineFailed) as fault:
        print(fault, file=sys.stderr)
        return 2
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
