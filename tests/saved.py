"""Honest files saved by each program, and who reads, verifies and gathers whose: `python -m tests.saved [--cases 5]`.

Cases of the suite, the blank workbooks and a register, in both languages, are opened, computed and saved by LibreOffice
(also in offices with a decimal comma), Gnumeric, openpyxl and IronCalc. Exit 1 if a file of a program that keeps
results is not clean, or gives other lines than the file as built.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import openpyxl

from builder.engine.audit.verify import CLEAN, verify
from builder.engine.exchange import gnumeric, office
from builder.engine.exchange.fill import fill_many
from builder.engine.exchange.ironcalc_model import IronCalcModel
from builder.engine.model import load_model
from builder.engine.same import same, says_the_same
from builder.engine.told import Told
from builder.planner.books import PLAN, REGISTER
from builder.planner.exchange.casefile import read_case
from builder.planner.exchange.register import register_cells
from builder.planner.gather.lines import gather
from builder.planner.reading import read_workbook
from tests.support.register_lines import invented_lines
from tests.support.workbooks import case_files
from tests.test_three_engines import IN_FORMULAS

LOSING = ("openpyxl", "IronCalc")  # one keeps no results, the other writes formulas and sheets anew
OFFICES = ("es-ES", "de-DE", "tr-TR")
LINES, ROOM = 12, 500  # lines of the register; lines that are gathered at most
AT_ONCE = 6  # files that LibreOffice opens in one call, which has an end
SHOWN = 3  # findings of a file that are told


def by_openpyxl(paths: Sequence[Path], target: Path) -> list[Path]:
    made = []
    for number, path in enumerate(paths):
        made.append(target / f"{number}.xlsx")
        openpyxl.load_workbook(path).save(made[-1])
    return made


def _ironcalc(paths: Sequence[Path], target: Path) -> list[Path]:
    made = []
    for number, path in enumerate(paths):
        made.append(target / f"{number}.xlsx")
        made[-1].write_bytes(IronCalcModel(path).saved())
    return made


def _office(locale: str) -> Callable[[Sequence[Path], Path], list[Path]]:
    def convert(paths: Sequence[Path], target: Path) -> list[Path]:
        made = []
        for first in range(0, len(paths), AT_ONCE):
            folder = target / str(first)
            folder.mkdir()
            made += office.convert(paths[first : first + AT_ONCE], folder, locale=locale)
        return made

    return convert


PROGRAMS: dict[str, Callable[[Sequence[Path], Path], list[Path]]] = {
    "as built": lambda paths, _: list(paths),
    "LibreOffice": _office(""),
    **{f"LibreOffice {locale}": _office(locale) for locale in OFFICES},
    "Gnumeric": gnumeric.convert,
    "openpyxl": by_openpyxl,
    "IronCalc": _ironcalc,
}


@dataclass(frozen=True)
class Honest:
    """A file as built: what it is, and where."""

    name: str
    path: Path

    @property
    def is_plan(self) -> bool:
        return "register" not in self.name


def honest(folder: Path, cases: Sequence[str]) -> list[Honest]:
    """The plan with each case and a register, in each language; the register has 500 lines, 12 of them filled."""
    made = []
    for language in ("en", "es"):
        model = load_model(PLAN, language)
        files = [Honest(f"{case} {language}", folder / f"{case}-{language}.xlsx") for case in cases]
        typed = [{} if case == "blank" else read_case(model, case_files()[case]) for case in cases]
        fill_many(model, [(cells, file.path) for cells, file in zip(typed, files, strict=True)])
        register = load_model(REGISTER, language)
        book = Honest(f"register {language}", folder / f"register-{language}.xlsx")
        fill_many(register, [(register_cells(register, invented_lines(LINES, seed=3)), book.path)])
        made += [*files, book]
    return made


def _lines(path: Path) -> Any:
    found = gather([path], ROOM)
    return found.lines or sorted(refusal.key for refusal in found.refusals)


def alike(one: Any, other: Any) -> bool:
    """Two answers of `read`: axes are stored with six decimals, texts say the same."""
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(alike(value, other[key]) for key, value in one.items())
    if isinstance(one, list):
        return len(one) == len(other) and all(alike(a, b) for a, b in zip(one, other, strict=True))
    return same(one, other, axis=True) or says_the_same(one, other)


def judged(file: Honest, saved: Path) -> dict[str, str]:
    """What each command says of a saved file: "yes", or why not."""
    report = verify(saved)
    told = {"verify": "yes" if report.verdict == CLEAN else "; ".join(list(report.lines())[: SHOWN + 1])}
    if not file.is_plan:
        return told
    try:
        told["read"] = "yes" if alike(read_workbook(file.path), read_workbook(saved)) else "other values"
    except Told as error:
        told["read"] = str(error)
    told["gather"] = "yes" if _lines(saved) == _lines(file.path) else f"other lines: {_lines(saved)}"
    return told


def main(arguments: Sequence[str] | None = None) -> int:
    """0: each file of a program that keeps results passes all that it should."""
    parser = argparse.ArgumentParser(prog="python -m tests.saved", description=__doc__)
    parser.add_argument("--cases", type=int, default=len(IN_FORMULAS))
    parser.add_argument("--programs", nargs="+", choices=list(PROGRAMS), default=list(PROGRAMS))
    options = parser.parse_args(arguments)
    table: dict[str, Counter[tuple[str, bool]]] = {}
    with tempfile.TemporaryDirectory(prefix="saved-") as name:
        folder = Path(name)
        files = honest(folder, IN_FORMULAS[: options.cases])
        for program in options.programs:
            target = folder / program
            target.mkdir()
            table[program] = Counter()
            for file, saved in zip(files, PROGRAMS[program]([f.path for f in files], target), strict=True):
                for command, said in judged(file, saved).items():
                    table[program][command, said == "yes"] += 1
                    if said != "yes":
                        print(f"{program} | {file.name} | {command}: {said}", flush=True)
            print(
                program,
                *(
                    f"{c} {table[program][c, True]} of {table[program][c, True] + table[program][c, False]}"
                    for c in ("verify", "read", "gather")
                ),
                sep=" | ",
                flush=True,
            )
    failed = [name for name in table if name not in LOSING and any(not passed for _, passed in table[name])]
    print("not as it should be: " + ", ".join(failed) if failed else "as it should be")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
