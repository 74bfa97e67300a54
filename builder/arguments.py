"""The parser of `python -m builder`: each command, argument and option says what it is, each command with an example.

It imports nothing of the builder's work, so that `--help` waits for nothing.
"""

from __future__ import annotations

import argparse
import textwrap
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from builder.engine.version import VERSION, WRITER

PROGRAM = "python -m builder"
ENGLISH, LANGUAGES = "en", ("en", "es")  # the languages of builder.engine.spec.words, which is not read for --help
WIDTH = 78  # of a description, in letters
ENGINES = ("stored", "formulas", "libreoffice", "gnumeric", "ironcalc")


class _Command(NamedTuple):
    """What `--help` says of a command, an example of its use, and more."""

    help: str
    example: str
    more: str = ""


COMMANDS = {
    "build": _Command(
        "write both workbooks in both languages, and the demos, to output/",
        "build --demos es",
        "Also writes the dumps specs/editions/current-*.txt, in which a change shows cell by cell.",
    ),
    "check": _Command(
        "say whether output/ holds what the specs build",
        "check",
        "Ends with 0 when it does, with 1 and the differences when it does not.",
    ),
    "fill": _Command(
        "write a planning workbook with the inputs of a case file typed in",
        "fill specs/cases/1-cone-both-eyes.toml -o eye.xlsx",
    ),
    "read": _Command(
        "print the inputs and results of a planning workbook by key",
        "read output/planning-workbook-demo.xlsx --json",
        "Values are those that the file holds; with --engine they are computed anew.",
    ),
    "gather": _Command(
        "fill an outcome register with one line an eye from planning workbooks",
        "gather plans/*.xlsx -o register.xlsx",
        "Ends with 0 when every file gave its lines, with 1 when some were refused: each is named with the reason.",
    ),
    "simulate": _Command(
        "draw the invented eyes of the simulated register anew",
        "simulate",
        "Needed after a change of specs/clinical/population.toml, or of results. Writes specs/register/simulated.csv.",
    ),
    "verify": _Command(
        "say cell by cell what in a file is not as it was built, inputs aside",
        "verify returned.xlsx --seen",
        "Ends with 0: as built; 1: differs; 2: refused unread; 3: as built, but its results were not computed.",
    ),
    "explain": _Command(
        "say where a key stands, its formula, unit, limits and source, and what feeds it",
        "explain mean_k",
    ),
    "compare": _Command(
        "say what this edition changes against an older one, to be read and signed",
        "compare 0.2.1-b5498274",
        "Tells changed constants, formulas and texts, and what they do to the cases.",
    ),
    "release": _Command(
        "keep the current edition, and the results of its cases, as released",
        "release",
        "Run build, all tests and compare first; then commit specs/editions/.",
    ),
    "translated": _Command(
        "bring the translations in step with the English, or record those that were looked at",
        "translated label.mean_k word.status_ready",
        "Without a text and without --all it adds what is new and marks what changed; 1: something is to be looked at.",
    ),
    "optics": _Command(
        "try the rules for the mean K on simulated corneas, traced ray by ray",
        "optics --eyes 200 --seed 7 -o rules.csv",
        "Judged under four meanings of focus. 2,000 eyes take less than a minute.",
    ),
    "bench": _Command(
        "measure what building, recalculating and the reference cost",
        "bench",
    ),
    "pictures": _Command(
        "draw the pictures of the README anew, by LibreOffice and its window",
        "pictures",
    ),
}


def parser() -> argparse.ArgumentParser:
    """The parser of all commands; each argument and option says what it is."""
    whole = argparse.ArgumentParser(
        prog=PROGRAM,
        description="Builds, fills, reads and checks the planning workbook and the outcome register.",
        epilog=f"{PROGRAM} COMMAND --help tells more of one command. Not a medical device.",
    )
    whole.add_argument("--version", action="version", version=f"{WRITER} {VERSION}", help="print the builder's version")
    commands = whole.add_subparsers(dest="command", required=True, metavar="COMMAND", title="commands")
    made = {
        name: commands.add_parser(
            name,
            help=command.help,
            description=textwrap.fill(f"{command.help[0].upper()}{command.help[1:]}. {command.more}", WIDTH),
            epilog=f"Example: {PROGRAM} {command.example}",
            formatter_class=argparse.RawDescriptionHelpFormatter,  # an example is copied, so it stays in one line
        )
        for name, command in COMMANDS.items()
    }
    _arguments_of_files(made)
    one = made["build"]
    one.add_argument("--demos", nargs="+", choices=LANGUAGES, default=[], help="write the demos of these languages too")
    made["explain"].add_argument("key", help="the key of a row, input, constant or word, as in the sheet Formula list")
    one = made["compare"]
    one.add_argument("old", help="a workbook (.xlsx), the dump of an edition (.txt), or the name of a released edition")
    one.add_argument("--engine", choices=ENGINES[1:], default="", help="the program that recalculates the old edition")
    one = made["translated"]
    one.add_argument("texts", nargs="*", metavar="table.key", help="a text whose translation was looked at")
    one.add_argument("--all", action="store_true", help="record that all of them were looked at")
    one = made["optics"]
    one.add_argument("--eyes", type=int, default=2000, help="how many eyes to draw (2000)")
    one.add_argument("--seed", type=int, default=7, help="the number that the draw starts from (7)")
    one.add_argument("-o", "--output", type=Path, help="the CSV file for the table of the rules")
    one.add_argument("--folder", type=Path, help="the folder for all tables and the picture")
    one.add_argument("--keep", action="store_true", help="keep the traced eyes for the tests instead")
    one.add_argument(
        "--decide",
        action="store_true",
        help="write the figures of the decided rules and of the README's picture instead",
    )
    return whole


def _arguments_of_files(made: Mapping[str, argparse.ArgumentParser]) -> None:
    """The arguments of the commands that write, read or compare workbook files."""
    one = made["fill"]
    one.add_argument("case", type=Path, help="a case file (.toml), such as those in specs/cases/")
    one.add_argument("-o", "--output", type=Path, required=True, help="the workbook to write (.xlsx)")
    one.add_argument("--language", choices=LANGUAGES, default=ENGLISH, help="the language of the workbook (en)")
    one = made["read"]
    one.add_argument("file", type=Path, help="a planning workbook (.xlsx)")
    one.add_argument("--json", action="store_true", help="print one JSON object")
    one.add_argument(
        "--engine", choices=ENGINES, default="stored", help="the program that computes the values (stored)"
    )
    one = made["gather"]
    one.add_argument("files", type=Path, nargs="+", help="filled planning workbooks (.xlsx)")
    one.add_argument("-o", "--output", type=Path, required=True, help="the register to write (.xlsx)")
    one.add_argument("--json", action="store_true", help="print counts and refusals as JSON")
    one = made["verify"]
    one.add_argument("files", type=Path, nargs="+", metavar="F.xlsx", help="planning workbooks or registers")
    one.add_argument("--json", action="store_true", help="print the findings as JSON")
    one.add_argument("--seen", action="store_true", help="compare what LibreOffice prints too: half a minute a file")
