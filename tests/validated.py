"""Every file that is given out, against the documented limits and the format's validator: `python -m tests.validated`.

Without a file: all workbooks of `output/`. Exit 1 if a limit is passed or the validator finds an error in either form
of the format; 2 if it is not installed.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from builder.engine.exchange.office import EngineMissing
from builder.engine.exchange.validator import FORMS, validate
from tests.support.limits import passed_limits

GIVEN_OUT = Path(__file__).resolve().parents[1] / "output"


def main(arguments: Sequence[str] | None = None) -> int:
    """0: nothing is found in any file."""
    parser = argparse.ArgumentParser(prog="python -m tests.validated", description=__doc__)
    parser.add_argument("files", nargs="*", type=Path, metavar="FILE.xlsx")
    options, wrong = parser.parse_args(arguments), 0
    for path in options.files or sorted(GIVEN_OUT.glob("*.xlsx")):
        found = {"limits": passed_limits(path)}
        try:
            found |= {form: validate(path, form) for form in FORMS}
        except EngineMissing as missing:
            print(missing, file=sys.stderr)
            return 2
        print(*(line for lines in found.values() for line in lines), sep="\n", end="")
        print(path.name, *(f"{name}: {len(lines)}" for name, lines in found.items()), sep=" | ", flush=True)
        wrong += sum(map(len, found.values()))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
