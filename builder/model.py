"""A workbook ready to be written: spec, layout, formulas, edition."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from builder.dump import dump_lines, edition_of
from builder.formula.compile import Compiled, compile_workbook, find_circle
from builder.layout import Layout, Place, lay_out, place_constants
from builder.spec import SpecError, WorkbookSpec, load_workbook_spec
from builder.spec.load import SPECS
from builder.spec.words import ENGLISH

PLAN, REGISTER = "plan", "register"


@dataclass(frozen=True)
class Model:
    """Everything about a workbook but what is typed into it."""

    spec: WorkbookSpec
    layout: Layout
    constants: Mapping[str, Place]
    compiled: Mapping[Place, Compiled]
    dump: tuple[str, ...]
    edition: str
    wordings: dict[tuple[str, str], list[str]] = field(default_factory=dict, compare=False)  # of write.measure


def plan_edition(model: Model) -> str:
    """The edition of the planning workbook whose lines this workbook takes."""
    return model.edition if model.spec.name == PLAN else load_model(PLAN, model.spec.language).edition


def load_model(name: str = PLAN, language: str = ENGLISH, specs: Path = SPECS, lines: int | None = None) -> Model:
    """Reads, checks, lays out and compiles the specs of a workbook. Raises SpecError.

    `lines`: another length of its list of lines than the specs say, such as a short register for a slow engine.
    """
    return build_model(name, language, specs, lines)


@lru_cache(maxsize=6)  # two workbooks in two languages, and a short register
def build_model(name: str, language: str, specs: Path, lines: int | None) -> Model:
    """As load_model, which calls it always alike, so that nothing is built twice."""
    spec = load_workbook_spec(name, language, specs, {} if lines is None else {"lines": lines})
    layout = lay_out(spec)
    constants = place_constants(spec)
    compiled = compile_workbook(spec, layout, constants)
    circle = find_circle(compiled)
    if circle:
        names = " -> ".join(slot.row.key for slot in circle)
        raise SpecError(circle[0].row.file, circle[0].row.key, f"reads itself: {names}", "Break the circle")
    dump = tuple(dump_lines(spec, layout, constants, compiled))
    return Model(spec, layout, constants, compiled, dump, edition_of(spec.version, dump))
