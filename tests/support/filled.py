"""Filled workbooks, written once in a run of the tests, whichever of its processes asks first, and copied for the rest.

That filling writes the same bytes again is proved by tests/test_same_bytes.py.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from builder.engine.exchange import fill as writing
from builder.engine.layout import Place
from builder.engine.model import Model

_STORE = "FILLED_WORKBOOKS"  # the folder of this run, in the environment; without one everything is written anew


def keep_in(folder: Path) -> None:
    """From now on filled workbooks are kept in this folder."""
    folder.mkdir(exist_ok=True)
    os.environ[_STORE] = str(folder)


def fill(model: Model, typed: Mapping[Place, Any], path: Path) -> None:
    """As the builder's own: a workbook at `path` with these cells typed and every result stored."""
    fill_many(model, [(typed, path)])


def fill_many(model: Model, jobs: Sequence[tuple[Mapping[Place, Any], Path]]) -> None:
    """As fill, for many cases: the reference computes at once those that nobody has asked for yet."""
    store = os.environ.get(_STORE)
    if store is None:
        writing.fill_many(model, jobs)
        return
    kept = [Path(store) / f"{_name(model, typed)}.xlsx" for typed, _ in jobs]
    new = {path: typed for path, (typed, _) in zip(kept, jobs, strict=True) if not path.exists()}
    own = {path: path.with_suffix(f".{os.getpid()}") for path in new}
    if new:
        writing.fill_many(model, [(typed, own[path]) for path, typed in new.items()])
    for path in new:
        own[path].replace(path)  # whole or not at all, for another process may look for it now
    for path, (_, wanted) in zip(kept, jobs, strict=True):
        shutil.copyfile(path, wanted)


def _name(model: Model, typed: Mapping[Place, Any]) -> str:
    """What a workbook hangs on: its model and what is typed, 1 told from TRUE and an error value from its text."""
    spec = model.spec
    held = sorted((tuple(place), value.__class__.__name__, repr(value)) for place, value in typed.items())
    about = spec.name, spec.language, spec.title, model.edition, len(model.layout.slots)
    return hashlib.sha256(repr((about, held)).encode()).hexdigest()[:24]
