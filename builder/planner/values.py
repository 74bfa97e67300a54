"""Brings the typed cells of cases to the reference, and its values to their cells."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from builder.engine.layout import Layout, Place, Slot, formula_slots
from builder.engine.model import REGISTER, Model, cited_text, plan_edition
from builder.engine.same import NOISE
from builder.engine.shown import followed
from builder.engine.spec import Row, SpecError
from builder.engine.spec.proofs import CHECKS
from builder.engine.spec.reading import demand
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.book import Book
from builder.planner.reference.plan.cells import Values
from builder.planner.reference.plan.evaluate import evaluate
from builder.planner.reference.plan.proof import Check
from builder.planner.reference.register.evaluate import evaluate_register
from builder.planner.reference.register.rows import RegisterBook

SIGNIFICANT = 12  # digits of a stored value: enough to agree to 1e-9, few enough to be the same on every processor


def reference_book(model: Model) -> Book:
    """What the reference must know of this workbook."""
    spec = model.spec
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
    names, steps = needs["need_name"], needs["need_step"]
    return Book(
        inputs=spec.inputs,
        words=spec.words,
        points=spec.points,
        where=where,
        examples=examples,
        proofs=_proofs(model),
        checks=_checks(model),
        needs=spec.lists["needs"].keys,
        fit_items=spec.lists["fit_items"].keys,
        edition=model.edition,
        need_steps={key: str(word).removeprefix("word.") for key, word in steps.cells.items()},
        need_labels={key: str(label).removeprefix("label.") for key, label in names.cells.items()},
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
        inputs=model.spec.inputs,
        words=model.spec.words,
        edition=model.edition,
        plan_edition=plan_edition(model),
        listed={key: tuple(_listed(model, key)) for key in lists},
        lenses=len(model.spec.lists["lens_rows"].keys),
    )


def _listed(model: Model, key: str) -> list[Any]:
    """The words of a list of constants."""
    cells = model.layout.cells(model.layout.lists_of[key][0], key).values()
    return [cited(model, slot.row.cells[slot.instance]) for slot in cells]


def cited(model: Model, value: Any) -> Any:
    """What a constant cell holds: `word.x`, `label.x` and `choice.x` are cited texts."""
    return cited_text(model.spec, value)


def typed_arrays(model: Model, cases: Sequence[Mapping[Place, Any]]) -> dict[str, np.ndarray]:
    """Typed cells of cases as the reference wants them: (n,), (n, 2) or (n, 6) objects by input key."""
    arrays: dict[str, np.ndarray] = {}
    for slot in model.layout.slots:
        item = slot.row.input
        if item is None:
            continue
        at = _index(slot)
        shape = (len(cases), *_shape(slot))
        array = arrays.setdefault(item.key, np.full(shape, None, dtype=object))
        for number, case in enumerate(cases):
            array[(number, *at)] = case.get(slot.place)
    return arrays


def evaluate_cases(model: Model, cases: Sequence[Mapping[Place, Any]]) -> Values:
    """The reference's values of many typed workbooks at once."""
    if model.spec.name == REGISTER:
        return evaluate_register(register_book(model), typed_arrays(model, cases))
    return evaluate(reference_book(model), typed_arrays(model, cases))


def cell_values(model: Model, values: Values, number: int = 0) -> dict[Place, Any]:
    """The value of every formula cell of one case (None: empty text). A missing or surplus key is a SpecError."""
    rows, empty, echoes = _by_row(model.layout)
    cells: dict[Place, Any] = {}
    later = [*echoes]
    for key, row in rows.items():
        array = values.rows.get(key)
        if array is not None:
            flat = array[number : number + 1].reshape(-1).tolist() if array.shape[1:] == row.shape else None
            for slot, at in row.cells:
                value = _element(array, slot, number) if flat is None else flat[at]
                cells[slot.place] = stored(value, row.digits)
            continue
        for slot, _ in row.cells:
            if not slot.row.follows:
                todo = f"Compute it in builder/planner/reference ({key[0]})"
                raise SpecError(slot.row.file, slot.row.key, "has no value in the reference", todo)
            later.append(slot)
    surplus = sorted(set(values.rows) - set(rows))
    if surplus:
        todo = "Remove it, or add the row to the specs"
        raise SpecError("builder/planner/reference", surplus[0][1], "is computed but is no row", todo)
    return cells | dict.fromkeys(empty) | followed(model, cells | dict.fromkeys(empty), later)


class _Row(NamedTuple):
    """The formula cells of a row of a list that the reference computes, each with its place in one case of it."""

    shape: tuple[int, ...]
    digits: int | None
    cells: list[tuple[Slot, int]]


@lru_cache(maxsize=8)  # asked of every case
def _by_row(layout: Layout) -> tuple[dict[tuple[str, str], _Row], list[Place], list[Slot]]:
    """Those rows, the cells that stay empty, and the slots that show others."""
    rows: dict[tuple[str, str], _Row] = {}
    empty, echoes = [], []
    for slot in formula_slots(layout):
        if slot.row.echo:
            echoes.append(slot)
        elif slot.instance in slot.row.cells:
            empty.append(slot.place)
        else:
            shape = _shape(slot)
            at = int(np.ravel_multi_index(_index(slot), shape)) if shape else 0
            rows.setdefault(
                (slot.block.instances.name, slot.row.key), _Row(shape, slot.row.steady_digits, [])
            ).cells.append((slot, at))
    return rows, empty, echoes


def _shape(slot: Slot) -> tuple[int, ...]:
    """The shape of a row for one case: (), (2,), (k,) or (2, k)."""
    instances = slot.block.instances
    if instances.name == "plan":
        return ()
    return (len(EYES), len(instances.keys)) if instances.per == "side" else (len(instances.keys),)


def _index(slot: Slot) -> tuple[int, ...]:
    """Where a slot stands in its row."""
    instances = slot.block.instances
    if instances.name == "plan":
        return ()
    at = instances.place_of[slot.instance]
    return (EYES.index(slot.side), at) if instances.per == "side" else (at,)


def _element(array: np.ndarray, slot: Slot, number: int) -> Any:
    try:
        return array[(number, *_index(slot))]
    except IndexError:
        wrong = (
            f"has no value for '{slot.instance}' in the reference, whose list of {slot.block.instances.name} is shorter"
        )
        todo = f"Give the reference this instance too, in builder/planner/reference ({slot.block.instances.name})"
        raise SpecError(slot.row.file, slot.row.key, wrong, todo) from None


def stored(value: Any, digits: int | None = None) -> Any:
    """A value as it is kept in a cell: None for empty, numbers with a fixed number of digits, noise as 0; rounded to
    so many decimals where the cell does."""
    if isinstance(value, str):
        return str(value) or None
    if value is None or value != value:
        return None
    if digits is not None:
        value = round(value, digits)
    elif abs(value) < NOISE:
        return 0.0
    return float(f"{value:.{SIGNIFICANT}g}") + 0.0  # no negative 0
