"""Brings the typed cells of cases to the reference: what a workbook names in its workbook.toml."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from builder.engine.layout import Place
from builder.engine.model import Model, edition_taken
from builder.engine.spec import Row, SpecError
from builder.engine.spec.proofs import CHECKS
from builder.engine.spec.reading import demand
from builder.engine.values import cited, typed_arrays
from builder.planner.books import REGISTER
from builder.planner.reference.constants import Constants
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.book import Book
from builder.planner.reference.plan.cells import Values
from builder.planner.reference.plan.evaluate import evaluate
from builder.planner.reference.plan.proof import Check
from builder.planner.reference.register.evaluate import evaluate_register
from builder.planner.reference.register.rows import RegisterBook, Rows

HOME = "builder/planner/reference"  # where a value is computed that a row of the specs lacks
PUTS = (Values.put, Rows.put)  # by which computed rows are kept


def constants_of(model: Model) -> Constants:
    """The constants that a workbook is computed with: those of its cells, and those that no formula cites."""
    cells = {key: float(constant.value) for key, constant in model.spec.constants.items()}
    return Constants(**{**model.spec.figures, **cells})


def reference_book(model: Model) -> Book:
    """What the reference must know of this workbook. Raises SpecError for other sides than the eyes."""
    spec = model.spec
    if spec.sides.keys != EYES:
        todo = f"Name them {', '.join(EYES)}, in this order, or teach {HOME} others"
        raise SpecError("workbook.toml", "sides", f"are {', '.join(spec.sides.keys)}", todo)
    where: dict[tuple[str, str], str] = {}
    first: dict[tuple[str, str], str] = {}  # the first cell of an input, in words
    to = spec.words.get("word", "cells_to")
    for slot in model.layout.slots:
        if slot.row.input is not None:
            cell = slot.row.input.key, slot.side or ("" if slot.instance == "plan" else slot.instance)
            here = first.setdefault(cell, f"{spec.sheet_title(slot.place.sheet)} {slot.place.address}")
            where[cell] = f"{here}{to}{slot.place.address}" if cell in where else here
    examples: dict[str, list[Any]] = {}
    table = model.layout.block_of["lens_table"].rows
    for row in table + model.layout.block_of["lens_cylinders"].rows:
        if row.cells:
            examples[row.key] = [cited(model, row.cells.get(key, "")) for key in table[0].cells]
    needs = {row.key: row for row in model.layout.block_of["needs_table"].rows}
    steps = needs["need_step"]
    return Book(
        constants=constants_of(model),
        inputs=spec.inputs,
        words=spec.words,
        points=spec.points,
        where=where,
        examples=examples,
        proofs=_proofs(model),
        checks=_checks(model),
        needs=spec.lists["needs"].keys,
        fit_items=spec.lists["fit_items"].keys,
        need_steps={key: str(word).removeprefix("word.") for key, word in steps.cells.items()},
    )


def _proofs(model: Model) -> dict[str, dict[str, np.ndarray]]:
    """The constant cells of each list of examples, by list and row."""
    found: dict[str, dict[str, np.ndarray]] = {}
    for _, block in model.spec.blocks():
        owner = block.instances
        if owner.apart and owner.name != CHECKS:
            cells = {row.key: _held(model, row, owner.keys) for row in block.rows if row.cells}
            found[owner.name] = found.get(owner.name, {}) | cells
    return found


def _held(model: Model, row: Row, keys: Sequence[str]) -> np.ndarray:
    demand(row.file, row.key, row.cells, keys)
    values = [cited(model, row.cells[key]) for key in keys]
    if row.is_word:
        return np.array(values, dtype=object)
    return np.array([np.nan if value == "" else value for value in values], dtype=float)


def _checks(model: Model) -> list[Check]:
    """What each line of the table of proof checks."""
    cells = {row.key: row.cells for row in model.layout.block_of[CHECKS].rows}
    found = []
    for (_, key), slot in model.layout.cells(CHECKS, "check_computed").items():
        read = model.compiled[slot.place].reads[0]
        owner = read.block.instances
        at = owner.keys.index(read.instance)
        expected, allowed = (float(cells[row][key]) for row in ("check_expected", "check_allowed"))
        found.append(Check(owner.name, read.row.key, at, expected, allowed))
    return found


def register_book(model: Model) -> RegisterBook:
    """What the reference must know of this register."""
    lists = {item.list for item in model.spec.inputs if item.list and not item.choices}
    return RegisterBook(
        constants=constants_of(model),
        inputs=model.spec.inputs,
        words=model.spec.words,
        edition=model.edition,
        plan_edition=edition_taken(model),
        listed={key: tuple(_listed(model, key)) for key in lists},
        lenses=len(model.spec.lists["lens_rows"].keys),
    )


def _listed(model: Model, key: str) -> list[Any]:
    """The words of a list of constants."""
    cells = model.layout.cells(model.layout.lists_of[key][0], key).values()
    return [cited(model, slot.row.cells[slot.instance]) for slot in cells]


def evaluate_cases(model: Model, cases: Sequence[Mapping[Place, Any]]) -> Values:
    """The reference's values of many typed workbooks at once."""
    if model.spec.name == REGISTER:
        return evaluate_register(register_book(model), typed_arrays(model, cases))
    return evaluate(reference_book(model), typed_arrays(model, cases))
