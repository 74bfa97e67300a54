"""A workbook ready to be written: spec, layout, formulas, edition."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

from builder.engine.formula.compiled import Compiled
from builder.engine.kept import kept
from builder.engine.layout import Layout, Place, lay_out, place_constants
from builder.engine.spec import Row, SpecError, WorkbookSpec
from builder.engine.spec.lists import meant
from builder.engine.spec.reading import SPECS
from builder.engine.spec.words import ENGLISH


@dataclass(frozen=True, repr=False)  # a failing comparison would write all of it out
class Model:
    """Everything about a workbook but what is typed into it."""

    spec: WorkbookSpec
    layout: Layout
    constants: Mapping[str, Place]
    compiled: Mapping[Place, Compiled]
    dump: tuple[str, ...]
    edition: str
    wordings: dict[tuple[str, str], list[str]] = field(default_factory=dict, compare=False)  # of write.measure

    @cached_property
    def templates(self) -> list[Any]:
        """None, or the one of write.again; of this very model, for a changed copy of it is written otherwise."""
        return []

    @cached_property
    def evaluators(self) -> list[Any]:
        """None, or the one of the rows that the reference does not give; of this very model, too."""
        return []

    @cached_property
    def as_loaded(self) -> bool:
        """Whether it is what the specs say, as load_model gave it, and no changed copy of that."""
        return False

    def at(self, place: Place) -> tuple[str, str]:
        """A cell as a file has it: sheet title and address."""
        return self.spec.sheet_title(place.sheet), place.address

    @cached_property
    def formula_cells(self) -> Mapping[Place, tuple[str, str]]:
        """Every formula cell as a file has it; asked for thousands of workbooks."""
        return {place: self.at(place) for place in self.compiled}

    def edition_cell(self) -> tuple[str, str]:
        """The cell that shows the edition."""
        return self.at(self.layout.once(self.spec.once, self.spec.edition).place)


def edition_taken(model: Model) -> str:
    """The edition of the workbook whose lines this one takes; its own if it takes none."""
    taken = model.spec.takes_from
    return load_model(taken, model.spec.language, model.spec.home).edition if taken else model.edition


def label_of(spec: WorkbookSpec, row: Row) -> str:
    """The label of a row, with whose it is when a row set serves several."""
    label = spec.words.label(row.label or row.key)
    of = spec.words.label(f"of_{row.of}") if row.of else ""
    return f"{label}, {of}" if of else label


def cited_text(spec: WorkbookSpec, value: Any) -> Any:
    """The text that `word.x`, `label.x` or `choice.x` cites; any other value as it is."""
    if isinstance(value, str) and value:
        table, _, key = value.partition(".")
        return spec.words.get(table, key)
    return value


def constant_value(spec: WorkbookSpec, row: Row, instance: str, edition: str, taken: str) -> Any:
    """What a constant cell holds: a number, a cited text, or an edition."""
    if row.key in (spec.edition, spec.edition_taken):
        return edition if row.key == spec.edition else taken
    value = row.cells[instance]
    if isinstance(value, str) and value.startswith("="):
        return value.removeprefix("=")  # as it stands: a key is the same in every language
    return cited_text(spec, value)


def load_model(name: str = "", language: str = ENGLISH, specs: Path = SPECS, lines: int | None = None) -> Model:
    """Reads, checks, lays out and compiles the specs of a workbook. Raises SpecError.

    `name`: without one, the workbook that is meant. `lines`: another length of its long lists than the specs say,
    such as a short one for a slow engine.
    """
    return _loaded(name or meant(specs), language, specs, lines)


@lru_cache(maxsize=6)  # two workbooks in two languages, and a short one
def _loaded(name: str, language: str, specs: Path, lines: int | None) -> Model:
    """As load_model, which calls it always alike, so that nothing is built twice."""
    if specs != SPECS:
        return build_model(name, language, specs, lines)
    found = kept(f"{name}-{language}-{lines or 'all'}", lambda: build_model(name, language, specs, lines))
    vars(found)["as_loaded"] = True
    return found


def build_model(name: str, language: str, specs: Path, lines: int | None) -> Model:
    """As load_model, from the texts and from nothing that is kept."""
    # late: what is kept is read in a tenth of the time that these take to be imported
    from builder.engine.dump import dump_lines, edition_of
    from builder.engine.formula.compile import compile_workbook, find_circle, refuse_reading_displays
    from builder.engine.spec.load import load_workbook_spec

    spec = load_workbook_spec(name, language, specs, lines)
    layout = lay_out(spec)
    constants = place_constants(spec)
    compiled = compile_workbook(spec, layout, constants)
    refuse_reading_displays(compiled)
    circle = find_circle(compiled)
    if circle:
        names = " -> ".join(slot.row.key for slot in circle)
        raise SpecError(circle[0].row.file, circle[0].row.key, f"reads itself: {names}", "Break the circle")
    taken = load_model(spec.takes_from, language, specs).edition if spec.takes_from else ""
    dump = tuple(dump_lines(spec, layout, constants, compiled, taken))
    return Model(spec, layout, constants, compiled, dump, edition_of(spec.version, dump))
