"""Gathers filled planning workbooks: one register line an eye, computed anew from what was typed.

Nothing is lost: each file gives lines or is refused by name. The order is that of the files as given.
"""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from builder.engine.audit.expected import Which, planned_cells
from builder.engine.exchange.language import language_of
from builder.engine.exchange.untrusted import Refused
from builder.engine.layout import Place
from builder.engine.model import Model, load_model
from builder.engine.shown import followed
from builder.engine.spec.words import ENGLISH
from builder.engine.values import stored
from builder.planner.books import PLAN
from builder.planner.gather.returned import entries, typed_in
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.cells import Values
from builder.planner.values import evaluate_cases

ROW = "outcome_"  # the rows of the register line begin so; the register's own key of the column follows
SHOWN = "outcome_shown"
CHUNK = 16  # files that one process reads before the reference computes them together, where there are many

Line = dict[str, Any]


@dataclass
class Gathered:
    """Register lines by column, each with the file it came from; and the refusals."""

    lines: list[Line] = field(default_factory=list)
    sources: list[str] = field(default_factory=list)
    refusals: list[Refused] = field(default_factory=list)


def gather(paths: Sequence[Path], room: int, tell: Callable[[int], object] = lambda files: None) -> Gathered:
    """Reads files, in several processes when there are many; `tell` hears how many more are done.

    A second line of the same file number and eye is refused, and so is a file for whose lines the register,
    which has `room` lines, is too small.
    """
    gathered = Gathered()
    known: dict[tuple[str, str], str] = {}
    for path, (lines, refusal) in zip(paths, _read_all(paths, tell), strict=True):
        if refusal is None and len(gathered.lines) + len(lines) > room:
            refusal = Refused("full", path.name, limit=room)
        if refusal is not None:
            gathered.refusals.append(refusal)
            continue
        for line in lines:
            eye = str(line["file_number"]), str(line["eye"])
            if eye in known:
                gathered.refusals.append(Refused("known_eye", path.name, " ".join(eye), known[eye]))
            else:
                known[eye] = path.name
                gathered.lines.append(line)
                gathered.sources.append(path.name)
    return gathered


Read = tuple[list[Line], Refused | None]


def _read_all(paths: Sequence[Path], tell: Callable[[int], object]) -> Iterator[Read]:
    processors = os.cpu_count() or 1
    size = max(1, min(CHUNK, len(paths) // processors))
    chunks = [paths[first : first + size] for first in range(0, len(paths), size)]
    workers = min(processors, len(chunks))
    if workers < 2:
        for chunk in chunks:
            yield from read_files(chunk)
            tell(len(chunk))
        return
    _make_ready()
    with ProcessPoolExecutor(workers, initializer=gc.freeze) as pool:  # what lasts is not searched for what is dead
        jobs = [pool.submit(read_files, chunk) for chunk in chunks]
        for chunk, job in zip(chunks, jobs, strict=True):
            try:
                found = job.result()
            except BrokenProcessPool:
                found = [_read_alone(path) for path in chunk]
            yield from found
            tell(len(chunk))


def _make_ready() -> None:
    """What every file needs: where processes are copies of this one, none of them builds it again."""
    planned_cells(Which(PLAN, language_of(()))), entries(ENGLISH)
    evaluate_cases(load_model(), [{}])


def _read_alone(path: Path) -> Read:
    """One file in a process of its own: what ends that process is named, and the others go on."""
    with ProcessPoolExecutor(1) as pool:
        try:
            return pool.submit(read_files, [path]).result()[0]
        except BrokenProcessPool as error:
            return [], Refused("broken", path.name, type(error).__name__)


def read_files(paths: Sequence[Path]) -> list[Read]:
    """The lines or the refusal of each file; the reference computes those that were read in one go."""
    typed = [_typed_cells(path) for path in paths]
    lines = iter(_lines(load_model(), [cells for cells in typed if not isinstance(cells, Refused)]))
    return [
        ([], cells) if isinstance(cells, Refused) else _judged(path, next(lines))
        for path, cells in zip(paths, typed, strict=True)
    ]


def _judged(path: Path, lines: list[Line]) -> Read:
    return (lines, None) if lines else ([], Refused("no_outcome", path.name))


def _typed_cells(path: Path) -> dict[Place, Any] | Refused:
    try:
        return typed_in(path)
    except Refused as refusal:
        return refusal
    except Exception as error:  # whatever a stranger's file breaks, the others go on and this one is named
        return Refused("broken", path.name, type(error).__name__)


def _lines(model: Model, cases: Sequence[dict[Place, Any]]) -> list[list[Line]]:
    if not cases:
        return []
    values = evaluate_cases(model, cases)
    return [[line for eye in EYES if (line := line_of(model, values, n, eye))] for n in range(len(cases))]


class _Cells(dict[Place, Any]):
    """What the reference has computed of one case, as cells hold it; each is looked up when it is asked for."""

    def __init__(self, model: Model, values: Values, number: int) -> None:
        super().__init__()
        self.model, self.computed, self.number = model, values, number

    def __missing__(self, place: Place) -> Any:
        slot = self.model.compiled[place].slot
        found = self.computed.rows.get((slot.block.instances.name, slot.row.key))
        if found is None:
            return followed(self.model, self, [slot])[place]
        owner = slot.block.instances
        at = (self.number, *((owner.owners.index(slot.side),) if owner.per == "side" else ()))
        return stored(found[(*at, owner.place_of[slot.instance])[: found.ndim]], slot.row.steady_digits)


def line_of(model: Model, values: Values, number: int, eye: str) -> Line | None:
    """One eye's line by column of the register, as its cells store it; None for an eye without one."""
    if values.get("eyes", SHOWN)[number, EYES.index(eye)] != 1:
        return None
    rows = {column: model.layout.cells("eyes", ROW + column)[eye, eye] for column in line_columns()}
    held = followed(model, _Cells(model, values, number), rows.values())
    return {column: held[slot.place] for column, slot in rows.items()}


@cache
def line_columns() -> tuple[str, ...]:
    """The columns of a register line by their keys, in order."""
    return tuple(row.key.removeprefix(ROW) for row in load_model().layout.block_of["register_line"].rows)
