"""A case typed in offices of other countries, as the office itself takes it: `python -m tests.offices [CASE ...]`.

LibreOffice, set to es-ES, de-DE, tr-TR or en-US, opens the blank workbook of each language, is typed into by its own
way (24,85 where a comma is the decimal sign, dates as 2026-01-15), computes and saves. What stands in the cells must be
what was typed; `verify`, `read`, `gather` and `compare` must say of it what they say of the file as built; and
sentences must show numbers with the office's decimal sign. Exit 1 if anything is otherwise.
"""

from __future__ import annotations

import argparse
import re
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from builder.engine.compare.changes import changes
from builder.engine.compare.old import open_old
from builder.engine.exchange import office
from builder.engine.exchange.cellvalues import Cells, read_values
from builder.engine.exchange.fill import fill
from builder.engine.layout import Place
from builder.engine.model import Model, load_model
from builder.engine.spec.reading import SPECS
from builder.engine.spec.words import languages
from builder.planner.books import PLAN
from builder.planner.exchange.casefile import DAY_ZERO, read_case
from tests.saved import Honest, judged
from tests.support.typing_macro import play_macro, procedure
from tests.support.workbooks import at, case_files

OFFICES = {"es-ES": ",", "de-DE": ",", "tr-TR": ",", "en-US": "."}  # and what each takes for a decimal sign
CASES = ("1-cone-both-eyes", "followup-five-visits", "own-lenses")
TOLD = 5  # of what is otherwise
SIGN = re.compile(r"(?<![\d.,])\d+([.,])\d+(?![\d.,]*[\d])")
_SAVED = """
  Dim frame, office, saved(0) As New com.sun.star.beans.PropertyValue
  Dim place(0) As New com.sun.star.beans.PropertyValue
  Dim entry(0) As New com.sun.star.beans.PropertyValue
  place(0).Name = "ToPoint" : entry(0).Name = "StringName"
  saved(0).Name = "FilterName" : saved(0).Value = "Calc MS Excel 2007 XML"
  office = createUnoService("com.sun.star.frame.DispatchHelper")
"""
_TYPED = """ ' as a person: to the cell, and the letters into it
      frame = document.CurrentController.Frame
      document.CurrentController.setActiveSheet(document.Sheets.getByName(part(1)))
      place(0).Value = part(2)
      office.executeDispatch(frame, ".uno:GoToCell", "", 0, place())
      entry(0).Value = part(3)
      office.executeDispatch(frame, ".uno:EnterString", "", 0, entry())
"""


def _letters(model: Model, typed: Mapping[Place, Any], sign: str) -> Iterator[tuple[tuple[str, str], str]]:
    """What is typed into each cell, letter by letter."""
    dates = {slot.place for slot in model.layout.slots if slot.row.input and slot.row.input.type == "date"}
    for place, value in typed.items():
        if isinstance(value, str):
            text = value
        elif place in dates:
            text = (DAY_ZERO.fromordinal(DAY_ZERO.toordinal() + int(value))).isoformat()[:10]
        else:
            text = f"{value:.12g}".replace(".", sign)
        yield at(model, place), text


def typed_in(locale: str, model: Model, cases: Sequence[Mapping[Place, Any]], folder: Path) -> list[Path]:
    """Each case typed into the blank workbook by an office of that country, and saved by it."""
    blank = folder / "blank.xlsx"
    fill(model, {}, blank)
    script, made = [], [folder / f"{number}.xlsx" for number in range(len(cases))]
    for typed, path in zip(cases, made, strict=True):
        script.append(f"open\t{blank.as_uri()}")
        script += ["\t".join(("type", *cell, text)) for cell, text in _letters(model, typed, OFFICES[locale])]
        script.append(f"save\t{path.as_uri()}")
    with office.profile(recalculate=True, locale=locale) as home:
        jobs = folder / "jobs.txt"
        jobs.write_text("\n".join(script), encoding="utf-8")
        play_macro(home, procedure(_SAVED, _TYPED), jobs)
    missing = [str(path) for path in made if not path.exists()]
    if missing:
        raise office.EngineFailed(f"LibreOffice set to {locale} saved nothing: {', '.join(missing)}")
    return made


def with_sign(model: Model, cells: Cells) -> dict[str, set[str]]:
    """The sentences whose numbers the office writes, and have a decimal sign, with the signs."""
    found = {}
    for place, compiled in model.compiled.items():
        said = cells.get(at(model, place))
        signs = {match[1] for match in SIGN.finditer(said)} if isinstance(said, str) else set()
        if signs and "FIXED(" in compiled.formula:
            found[f"{'!'.join(at(model, place))}: {said}"] = signs
    return found


def otherwise(model: Model, typed: Mapping[Place, Any], path: Path, locale: str, folder: Path) -> Iterator[str]:
    """What is otherwise in a file that an office saved, a line each."""
    cells = read_values(path)
    for place, value in typed.items():
        held = cells.get(at(model, place))
        if held != value:
            yield f"typed {value!r}, holds {held!r}: {'!'.join(at(model, place))}"
    built = folder / "built.xlsx"
    fill(model, typed, built)
    yield from (f"{command}: {said}" for command, said in judged(Honest("plan", built), path).items() if said != "yes")
    old = open_old(str(path), model.spec)
    new = open_old(str(built), model.spec)
    yield from (f"compare: {change}" for change in changes(old, new))
    said = with_sign(model, cells)
    yield from (f"decimal sign: {line}" for line, signs in said.items() if signs != {OFFICES[locale]})


def main(arguments: Sequence[str] | None = None) -> int:
    """0: everything is as it should be."""
    parser = argparse.ArgumentParser(prog="python -m tests.offices", description=__doc__)
    parser.add_argument("cases", nargs="*", default=list(CASES), metavar="CASE")
    parser.add_argument("--locale", choices=tuple(OFFICES), help="only this one")
    options, wrong = parser.parse_args(arguments), 0
    for language in languages(SPECS):
        model = load_model(PLAN, language)
        cases = [read_case(model, case_files()[name]) for name in options.cases]
        for locale in (options.locale,) if options.locale else OFFICES:
            with tempfile.TemporaryDirectory(prefix="office-") as name:
                folder, found, sentences = Path(name), [], 0
                for typed, path in zip(cases, typed_in(locale, model, cases, folder), strict=True):
                    found += otherwise(model, typed, path, locale, folder)
                    sentences += len(with_sign(model, read_values(path)))
            print(*found[:TOLD], sep="\n", end="\n" if found else "")
            done = f"{len(cases)} files, {sum(map(len, cases))} cells typed, {sentences} sentences with a decimal sign"
            print(f"{locale} | {language} | {done} | {len(found)} otherwise", flush=True)
            wrong += len(found)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
