"""The commands of `python -m builder`; --help lists them."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path

from builder import bench
from builder import build as building
from builder.exchange.casefile import CaseError, read_case
from builder.exchange.cellvalues import UnreadableFile
from builder.exchange.fill import fill
from builder.exchange.office import EngineFailed, EngineMissing
from builder.exchange.pictures import write_pictures
from builder.exchange.read import NotOurs, read_workbook
from builder.model import load_model
from builder.spec import SpecError

ENGINES = ("stored", "formulas", "libreoffice", "gnumeric")
TOLD = (CaseError, SpecError, UnreadableFile, NotOurs, EngineMissing, EngineFailed, OSError)


def _build(_: argparse.Namespace) -> int:
    for path in building.build():
        shown = path.relative_to(Path.cwd()) if path.is_relative_to(Path.cwd()) else path
        print(f"{shown}  {path.stat().st_size:,} bytes")
    return 0


def _check(_: argparse.Namespace) -> int:
    found = building.differences()
    for line in found:
        print(line)
    if not found:
        print("Specs, dialect and output agree:")
        for book in map(load_model, building.BOOKS):
            print(f"{book.spec.name}: edition {book.edition}, {len(book.compiled):,} formula cells")
    return 1 if found else 0


def _fill(options: argparse.Namespace) -> int:
    model = load_model()
    typed = read_case(model, options.case)
    fill(model, typed, options.output)
    print(f"{options.output}: {len(typed)} cells typed")
    return 0


def _read(options: argparse.Namespace) -> int:
    found = read_workbook(options.file, options.engine)
    if options.json:
        print(json.dumps(found, indent=1, ensure_ascii=False))
    else:
        for owner in ("plan", "right", "left"):
            for key, value in found[owner].items():
                if value is not None:
                    print(f"{owner}.{key} = {value}")
    return 0


def _bench(_: argparse.Namespace) -> int:
    for line in bench.report():
        print(line, flush=True)
    return 0


def _pictures(_: argparse.Namespace) -> int:
    for path in write_pictures(load_model(), building.CASES, building.OUTPUT):
        print(path.name)
    return 0


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs a command; a mistake is told in one sentence and ends with 2."""
    parser = argparse.ArgumentParser(prog="python -m builder", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    commands.add_parser("build", help="write output/").set_defaults(run=_build)
    commands.add_parser("check", help="specs, dialect, committed output = built output").set_defaults(run=_check)
    one = commands.add_parser("fill", help="a planning workbook with the inputs of a case file typed in")
    one.add_argument("case", type=Path)
    one.add_argument("-o", "--output", type=Path, required=True)
    one.set_defaults(run=_fill)
    one = commands.add_parser("read", help="inputs and results of a workbook by key")
    one.add_argument("file", type=Path)
    one.add_argument("--json", action="store_true")
    one.add_argument("--engine", choices=ENGINES, default="stored")
    one.set_defaults(run=_read)
    commands.add_parser("bench", help="what building, recalculating and the reference cost").set_defaults(run=_bench)
    commands.add_parser("pictures", help="the pictures of the README, by LibreOffice").set_defaults(run=_pictures)
    options = parser.parse_args(arguments)
    try:
        return int(options.run(options))
    except TOLD as error:
        print(error, file=sys.stderr)
        return 2
