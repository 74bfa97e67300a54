"""Writes a workbook with a case typed in: writing it again, never editing a file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from builder.engine.layout import Place
from builder.engine.model import Model
from builder.engine.values import values_of_cases
from builder.engine.write import again


def fill(model: Model, typed: Mapping[Place, Any], path: Path) -> None:
    """A workbook at `path` with these cells typed and every result stored."""
    fill_many(model, [(typed, path)])


def fill_many(model: Model, jobs: Sequence[tuple[Mapping[Place, Any], Path]]) -> None:
    """As fill, for many cases: the reference computes them all at once."""
    values = values_of_cases(model, [typed for typed, _ in jobs])
    for (typed, path), cells in zip(jobs, values, strict=True):
        again.write(model, path, cells, typed)


def take_kept(model: Model) -> None:
    """For a command that fills one workbook: from now on this model's are written like the blank one kept on disk.

    For a model as load_model gives it alone: one that was changed since is written otherwise.
    """
    again.take_kept(model, lambda path: fill(model, {}, path))
