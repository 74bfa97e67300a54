"""Whether the reference and the cells' own formulas agree: `python -m tests.agree [CASE.toml ...]`.

Without a case: all case files, the blank workbook, the blank Spanish one and registers of twelve lines. It tells the
cells that differ though all that they read is the same, with keys, formulas and what they read. Exit 1 if any does.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from builder.engine.model import load_model
from builder.engine.spec import SpecError
from builder.engine.spec.reading import SPECS
from builder.engine.spec.words import ENGLISH, languages
from builder.planner.books import PLAN, REGISTER
from builder.planner.exchange.casefile import CaseError, read_case
from tests.support.witnesses import SHORT, Compared, compare, short_registers, witness
from tests.support.workbooks import Typed, case_files, typed_case


def _plans(paths: Sequence[Path], language: str) -> dict[str, Typed]:
    model = load_model(PLAN, language)
    if paths:
        return {path.stem: read_case(model, path) for path in paths}
    if language == ENGLISH:
        return {name: typed_case(name) for name in ("blank", *case_files())}
    return {"blank": {}, **{name: read_case(model, path) for name, path in list(case_files().items())[-4:]}}


def _agree(name: str, language: str, lines: int | None, states: dict[str, Typed]) -> int:
    model, begun = load_model(name, language, lines=lines), time.monotonic()
    found: Compared = compare(model, states, witness(name, language, lines))
    print(*found.told(model), sep="\n", end="\n" if found.wrong else "")
    for (_, key), told in found.apart.items():
        print(f"{key} may show another last digit before computing than after: {told}; round its row (`steady`)")
    seconds = time.monotonic() - begun
    verdict = "DIFFER" if found.wrong else "agree"
    print(f"{name} ({language}): {len(states)} states, {found.cells:,} cells, {seconds:.1f} s: {verdict}")
    return found.wrong


def main(arguments: Sequence[str] | None = None) -> int:
    """0: all agree; 1: some cells differ; 2: a case or a spec is at fault."""
    parser = argparse.ArgumentParser(prog="python -m tests.agree", description=__doc__)
    parser.add_argument("cases", nargs="*", type=Path, metavar="CASE.toml")
    parser.add_argument("--language", choices=languages(SPECS), help="only the planning workbook in this language")
    options = parser.parse_args(arguments)
    wrong = 0
    try:
        for language in (options.language,) if options.language else languages(SPECS):
            if language == ENGLISH or options.language or not options.cases:
                wrong += _agree(PLAN, language, None, _plans(options.cases, language))
        if not (options.cases or options.language):
            wrong += _agree(REGISTER, ENGLISH, SHORT, short_registers(load_model(REGISTER, lines=SHORT)))
    except (CaseError, SpecError) as fault:
        print(fault, file=sys.stderr)
        return 2
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
