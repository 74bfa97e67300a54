"""Run Gnumeric's converter, one process a file, over the cores."""

import os
import subprocess
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from builder.engine.exchange.office import TIMEOUT, EngineFailed, program


def ssconvert() -> str:
    """Path of Gnumeric's converter."""
    return program("ssconvert", "gnumeric")


def convert(paths: Sequence[Path], target: Path) -> list[Path]:
    """Recalculate each file and save it as .xlsx in `target`, in the order given."""
    command = ssconvert()

    def one(number: int, path: Path) -> Path:
        made = target / f"{number}.xlsx"
        done = subprocess.run(
            [command, "--recalc", "--export-type=Gnumeric_Excel:xlsx2", str(path), str(made)],
            capture_output=True,
            text=True,
            timeout=TIMEOUT,
            check=False,
        )
        if done.returncode or not made.exists():
            raise EngineFailed(f"Gnumeric did not convert {path}: {done.stderr.strip()}")
        return made

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(one, range(len(paths)), paths))
