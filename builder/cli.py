"""The commands of `python -m builder`; --help lists them.

Each imports what it needs when it runs, so that none waits for what another needs.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from builder.arguments import parser
from builder.engine.told import Told

MANY = 20  # files, from which on a bar shows how far it is


def _build(options: argparse.Namespace) -> int:
    from builder.planner import build as building

    books = building.build(demos={*building.DEMOS, *options.demos})
    for path in (path for book in books for path in book.files):
        shown = path.relative_to(Path.cwd()) if path.is_relative_to(Path.cwd()) else path
        print(f"{shown}  {path.stat().st_size:,} bytes")
    notes = [line for book in books for line in book.notes]
    if notes:
        print(f"constants other than in the last release (see that changes.toml says so): {'; '.join(notes)}")
    return 0


def _check(_: argparse.Namespace) -> int:
    from builder.planner import build as building

    found = building.check()
    print(*found.differences, sep="\n", end="\n" if found.differences else "")
    if not found.differences:
        print("Specs, dialect and output agree:")
        for book in found.books:
            print(f"{book.title}: edition {book.edition}, {book.formula_cells:,} formula cells")
    return 1 if found.differences else 0


def _fill(options: argparse.Namespace) -> int:
    from builder.engine.exchange.fill import fill, take_kept
    from builder.engine.model import load_model
    from builder.planner.exchange.casefile import read_case

    model = load_model(language=options.language)
    typed = read_case(model, options.case)
    take_kept(model)
    fill(model, typed, options.output)
    print(f"{options.output}: {len(typed)} cells typed")
    return 0


def _read(options: argparse.Namespace) -> int:
    from builder.planner.reading import read_workbook

    found = read_workbook(options.file, options.engine)
    if options.json:
        print(json.dumps(found, indent=1, ensure_ascii=False))
    else:
        for owner in ("plan", "right", "left"):
            for key, value in found[owner].items():
                if value is not None:
                    print(f"{owner}.{key} = {value}")
    return 0


def _gather(options: argparse.Namespace) -> int:
    """0: every file became lines; 1: some were refused, and each refusal is told."""
    from tqdm import tqdm  # late: it reads only as it is imported that another library's bars are to be silent

    from builder.engine.model import load_model
    from builder.planner.books import REGISTER
    from builder.planner.exchange.register import fill_register, room
    from builder.planner.gather.lines import gather

    register = load_model(REGISTER)
    with tqdm(total=len(options.files), unit="file", disable=True if len(options.files) < MANY else None) as bar:
        found = gather(options.files, room(register), bar.update)
    fill_register(register, found.lines, options.output)
    told = [{"file": refusal.file, "key": refusal.key, "sentence": refusal.sentence} for refusal in found.refusals]
    summary = {"files": len(options.files), "lines": len(found.lines), "refusals": told}
    if options.json:
        print(json.dumps(summary, indent=1, ensure_ascii=False))
    else:
        print(*(refusal.sentence for refusal in found.refusals), sep="\n", end="\n" if told else "")
        print(f"{options.output}: {len(found.lines)} lines from {len(options.files)} files, {len(told)} refused")
    return 1 if told else 0


def _simulate(_: argparse.Namespace) -> int:
    from builder.engine.model import load_model
    from builder.planner.simulation.register import simulate
    from builder.planner.simulation.store import SIMULATED, as_table

    SIMULATED.write_text(as_table(simulate(load_model())), encoding="utf-8")
    print(f"{SIMULATED.name} is drawn; look at the difference, then build")
    return 0


def _verify(options: argparse.Namespace) -> int:
    from builder.engine.audit.verify import verify

    reports = [verify(path, seen=options.seen) for path in options.files]
    if options.json:
        print(json.dumps([report.told() for report in reports], indent=1, ensure_ascii=False))
    else:
        for report in reports:
            print(*report.lines(), sep="\n")
    return max(report.verdict for report in reports)


def _explain(options: argparse.Namespace) -> int:
    from builder.engine.explain import explain_in
    from builder.engine.model import load_model
    from builder.planner.books import REGISTER

    for line in explain_in([load_model(), load_model(REGISTER)], options.key):
        print(line)
    return 0


def _compare(options: argparse.Namespace) -> int:
    from builder.engine.compare.effect import engine_here
    from builder.engine.compare.old import open_old
    from builder.engine.compare.report import report
    from builder.engine.model import load_model
    from builder.planner.cases import kept_cases

    old = open_old(options.old, load_model().spec)
    model = load_model(language=old.language)
    for line in report(model, old, engine_here(options.engine), kept_cases(model)):
        print(line)
    return 0


def _release(_: argparse.Namespace) -> int:
    from builder.planner import build as building

    for path in building.release():
        print(path.name)
    return 0


def _translated(options: argparse.Namespace) -> int:
    """1 when there is something to look at: without a text and without --all nothing is taken as looked at."""
    from builder.engine.spec.reading import SPECS
    from builder.engine.spec.translated import follow_english, look_at, told
    from builder.engine.spec.words import languages

    named, count = None if options.all else options.texts, 0
    for language in languages(SPECS)[1:]:
        listing = named == []
        texts = follow_english(language, SPECS) if listing else look_at(language, SPECS, named)
        print(*(line for text in texts for line in told(text)), sep="\n", end="\n" if texts else "")
        print(f"{language}: {len(texts)} texts {'to look at' if listing else 'recorded or dropped'}")
        count += len(texts) if listing else 0
    return 1 if count else 0


def _bench(_: argparse.Namespace) -> int:
    from builder.planner import bench

    for line in bench.report():
        print(line, flush=True)
    return 0


def _optics(options: argparse.Namespace) -> int:
    from builder.planner.trial.run import run

    run(options.eyes, options.seed, options.output, options.folder, options.keep, options.decide)
    return 0


def _pictures(_: argparse.Namespace) -> int:
    from builder.engine.model import load_model
    from builder.planner import build as building
    from builder.planner.exchange.pictures import PLAN_DEMO, write_pictures, write_screens
    from builder.planner.trial.picture import PICTURE, draw_kept

    draw_kept()
    print(PICTURE.name)
    model = load_model()
    for path in write_pictures(model, building.CASES, building.OUTPUT):
        print(path.name)
    for path in write_screens(model, building.OUTPUT / PLAN_DEMO, building.OUTPUT):
        print(path.name)
    return 0


RUN: dict[str, Callable[[argparse.Namespace], int]] = {
    "build": _build,
    "check": _check,
    "fill": _fill,
    "read": _read,
    "gather": _gather,
    "simulate": _simulate,
    "verify": _verify,
    "explain": _explain,
    "compare": _compare,
    "release": _release,
    "translated": _translated,
    "optics": _optics,
    "bench": _bench,
    "pictures": _pictures,
}


def main(arguments: Sequence[str] | None = None) -> int:
    """The exit code of a command; a mistake is told in one sentence on stderr and gives 2."""
    options = parser().parse_args(arguments)
    try:
        return int(RUN[options.command](options))
    except Told as error:
        print(error, file=sys.stderr)
    except OSError as error:
        print(_of_the_system(error), file=sys.stderr)
    return 2


def _of_the_system(error: OSError) -> str:
    """What the operating system refused, of which file, and what to do."""
    if error.filename is None:
        return f"{error}; make room or close the file, and run the command again"
    todo = "give the path of a file that is there"
    if isinstance(error, PermissionError):
        todo = "close the file in other programs, or give another path"
    elif isinstance(error, IsADirectoryError | NotADirectoryError):
        todo = "give the path of a file, in a folder that is there"
    elif isinstance(error, FileNotFoundError):
        todo = "give a path that is there; a folder is not made"
    return f"{error.filename}: {error.strerror}; {todo}"
