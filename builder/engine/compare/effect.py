"""What an edition makes of the cases: old results by its own formulas in a spreadsheet, new ones by the reference."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from xlsxwriter.workbook import Workbook

from builder.engine.compare.old import TEXT
from builder.engine.dump import name_of
from builder.engine.editions.record import Cases, axes, results
from builder.engine.editions.store import Edition
from builder.engine.exchange.cellvalues import Cells
from builder.engine.exchange.engines import INDEPENDENT, missing, recalculate
from builder.engine.exchange.in_files import in_edition, of_edition
from builder.engine.exchange.office import EngineMissing
from builder.engine.model import Model
from builder.engine.same import same

FASTEST = tuple(reversed(INDEPENDENT))


@dataclass(frozen=True)
class Effect:
    """A result of a case that is another now; None: empty. `gap` is the size of the difference, infinite for words."""

    name: str
    was: Any
    now: Any

    @property
    def gap(self) -> float:
        """How far a number moved; infinite for what is no number on both sides."""
        both = [value for value in (self.was, self.now) if isinstance(value, float | int)]
        return abs(both[1] - both[0]) if len(both) == 2 else float("inf")


@dataclass(frozen=True)
class CaseEffect:
    """What changes in a case: results by size, largest first; inputs that the old edition did not have."""

    case: str
    compared: int
    effects: tuple[Effect, ...]
    unknown_inputs: tuple[str, ...] = ()


def engine_here(wanted: str = "") -> str:
    """The wanted engine, or the fastest that is installed. Raises EngineMissing."""
    reasons = {engine: missing(engine) for engine in ([wanted] if wanted else FASTEST)}
    for engine, reason in reasons.items():
        if reason is None:
            return engine
    raise EngineMissing("; ".join(str(reason) for reason in reasons.values()))


def effects(model: Model, old: Edition, engine: str, cases: Cases) -> list[CaseEffect]:
    """The effect on every case. A result that the old edition does not have, or has no more, is none."""
    places = {cell.name: place for place, cell in old.cells.items()}
    names = {slot.place: name_of(slot) for slot in model.layout.slots if slot.row.input is not None}
    words = model.spec.words
    typed = [
        {names[p]: in_edition(words, old.words, v) for p, v in case.items() if v is not None}
        for case in cases.typed.values()
    ]
    with tempfile.TemporaryDirectory(prefix="compare-") as folder:
        files = [write_bare(old, case, Path(folder) / f"{n}.xlsx") for n, case in enumerate(typed)]
        computed = recalculate(files, engine)
    folded = axes(model, cases)
    found = []
    for (case, now), inputs, cells in zip(results(model, cases).items(), typed, computed, strict=True):
        was = {name: of_edition(words, old.words, value) for name, value in _by_name(cells, places).items()}
        changed = [Effect(n, was[n], v) for n, v in now.items() if n in was and not same(was[n], v, n in folded)]
        changed.sort(key=lambda effect: -effect.gap)
        known = sum(name in was for name in now)
        found.append(CaseEffect(case, known, tuple(changed), tuple(name for name in inputs if name not in places)))
    return found


def _by_name(cells: Cells, places: Mapping[str, tuple[str, str]]) -> dict[str, Any]:
    return {name: cells.get(place) for name, place in places.items()}


def write_bare(edition: Edition, typed: Mapping[str, Any], path: Path) -> Path:
    """The formulas, constants and texts of an edition without their looks, with these inputs typed."""
    book = Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False})
    sheets = {title: book.add_worksheet(title) for title in dict.fromkeys(title for title, _ in edition.cells)}
    for (title, address), cell in edition.cells.items():
        if cell.role == "formula":
            sheets[title].write_formula(address, cell.holds, None, "")
            continue
        value = typed.get(cell.name) if cell.role == "typed" else edition.value(cell)
        if isinstance(value, bool):
            sheets[title].write_boolean(address, value)
        elif isinstance(value, str) and value:
            sheets[title].write_string(address, value)
        elif isinstance(value, float | int):
            sheets[title].write_number(address, value)
        label = f"A{address.lstrip('ABCDEFGHIJKLMNOPQRSTUVWXYZ')}"
        if cell.role != TEXT and (title, label) not in edition.cells:
            sheets[title].write_string(label, _label(edition, cell.name.rpartition(".")[2]))
    book.close()
    return path


def _label(edition: Edition, key: str) -> str:
    """The label of a row, which a few formulas cite."""
    plain = key.partition("_")[2]
    return edition.words.get(f"label.{key}") or edition.words.get(f"label.{plain}", "")
