"""What was made once from the specs is kept on disk: a command then needs a tenth of a second for it, not two.

It is taken again only while all that it was made from says what it said then, for its name holds their hash.
"""

from __future__ import annotations

import gc
import hashlib
import os
import pickle
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from builder.engine.spec.reading import SPECS

HERE = Path(__file__).resolve().parents[1]
KEPT = HERE.parent / ".kept"  # no part of the project: to be thrown away at any time
OTHERWISE = "KEEP_NOTHING"  # this variable of the environment: make everything anew, and keep nothing
READ = (".toml", ".po")  # of the specs, translations among them
NOT_READ = {"cases", "editions"}  # folders of the specs that no workbook is made from
NEWEST = 24  # kept at most, of all kinds

Made = TypeVar("Made")


def kept(name: str, make: Callable[[], Made]) -> Made:
    """What `make` gives, or gave when it was last called for this name with the same specs, code and Python.

    It must be a thing that pickle can hold and must hang on nothing but them. A folder that cannot be written, or a
    file that cannot be read, costs time and nothing else.
    """
    path = KEPT / f"{name}-{hash_of_sources()}.pickle"
    if os.environ.get(OTHERWISE):
        return make()
    with suppress(OSError, pickle.UnpicklingError, EOFError, AttributeError, ImportError):
        found: Made = _read(path)
        return found
    made = make()
    with suppress(OSError):
        _write(path, made)
    return made


def _read(path: Path) -> Any:
    """Its objects last: a search for dead ones among them, now or later, is a waste, which was half of the time."""
    on = gc.isenabled()
    gc.disable()
    try:
        found = pickle.loads(path.read_bytes())
        gc.freeze()
        return found
    finally:
        if on:
            gc.enable()


def _write(path: Path, made: Any) -> None:
    """Whole or not at all, for several processes may do it at once; what is old goes."""
    KEPT.mkdir(exist_ok=True)
    own = path.with_suffix(f".{os.getpid()}")
    own.write_bytes(pickle.dumps(made, pickle.HIGHEST_PROTOCOL))
    own.replace(path)
    for old in sorted(KEPT.iterdir(), key=lambda file: file.stat().st_mtime, reverse=True)[NEWEST:]:
        old.unlink(missing_ok=True)


@cache
def hash_of_sources() -> str:
    """Of every text that a workbook is made from, of the code, where they stand, and of the Python that reads them."""
    digest = hashlib.sha256(f"{sys.version} {HERE}".encode())  # a spec knows the folder that it was read from
    for path in _sources():
        digest.update(str(path.relative_to(HERE.parent)).encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()[:20]


def _sources() -> Iterator[Path]:
    yield from sorted(HERE.rglob("*.py"))
    specs = (path for suffix in READ for path in SPECS.rglob(f"*{suffix}"))
    yield from sorted(path for path in specs if path.relative_to(SPECS).parts[0] not in NOT_READ)
