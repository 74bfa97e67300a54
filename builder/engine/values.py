"""The values of formula cells, apart from the formulas: what the reference of a workbook computes, or its witness.

A reference is a module that a workbook names in its workbook.toml. It has `evaluate_cases(model, cases)`, the values
of many typed workbooks at once by row; `HOME`, where a missing value is to be computed; and `PUTS`, the functions
`put(list_name, **rows)` by which it keeps the rows that it has computed.
"""

from __future__ import annotations

import hashlib
import importlib
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache, partial
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol, cast

import numpy as np

from builder.engine.kept import kept
from builder.engine.layout import Layout, Place, Slot, formula_slots
from builder.engine.model import Model, cited_text
from builder.engine.same import NOISE
from builder.engine.shown import followed
from builder.engine.spec import SpecError

if TYPE_CHECKING:
    from builder.engine.witness.untwinned import Untwinned

SIGNIFICANT = 12  # digits of a stored value: enough to agree to 1e-9, few enough to be the same on every processor


class Computed(Protocol):
    """What a reference gives: the values of each row of a list, for case after case."""

    @property
    def rows(self) -> Mapping[tuple[str, str], Any]:
        """By list and key of the row: (n,), (n, sides), (n, instances) or (n, sides, instances)."""


def reference_of(model: Model) -> Any:
    """The module that computes a workbook's values."""
    return importlib.import_module(model.spec.reference)


def values_of_cases(model: Model, cases: Sequence[Mapping[Place, Any]]) -> Iterator[dict[Place, Any]]:
    """The value of every formula cell (None: empty text) with these cells typed, case after case."""
    if not model.spec.reference:
        from builder.engine.witness.workbook import Witness  # late: not every command asks it

        witness = Witness(model)
        for typed in cases:
            found = witness.values(typed)
            yield {place: stored(value, model.compiled[place].slot.row.steady_digits) for place, value in found.items()}
        return
    computed = reference_of(model).evaluate_cases(model, cases)
    for number in range(len(cases)):
        yield cell_values(model, computed, number)


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


def cell_values(model: Model, values: Computed, number: int = 0) -> dict[Place, Any]:
    """The value of every formula cell of one case (None: empty text). A missing or surplus key is a SpecError."""
    rows, empty, echoes, displayed = _by_row(model.layout)
    shown = _untwinned(model, values)
    read, alone = shown.read, shown.digits
    cells: dict[Place, Any] = {}
    exact: dict[Place, Any] = {}  # what the rows without a twin read, with all its digits
    later = [slot for slot in echoes if slot.place not in alone]
    for key, row in rows.items():
        array = values.rows.get(key)
        if array is not None:
            flat = array[number : number + 1].reshape(-1).tolist() if array.shape[1:] == row.shape else None
            for slot, at in row.cells:
                value = _element(model, array, slot, number) if flat is None else flat[at]
                cells[slot.place] = stored(value, row.digits)
                if slot.place in read:
                    exact[slot.place] = _exact(value, row.digits)
            continue
        for slot, _ in row.cells:
            if slot.place in alone:
                continue
            if not slot.row.follows:
                todo = f"Compute it in {reference_of(model).HOME} ({key[0]})"
                raise SpecError(slot.row.file, slot.row.key, "has no value in the reference", todo)
            later.append(slot)
    surplus = sorted(set(values.rows) - set(rows))
    if surplus:
        wrong, todo = "is computed but is no row", "Remove it, or add the row to the specs"
        if surplus[0] in displayed:
            wrong, todo = "is computed though it only displays", "Remove it there, or `display` in the specs"
        raise SpecError(reference_of(model).HOME, surplus[0][1], wrong, todo)
    cells |= dict.fromkeys(empty)
    cells |= followed(model, cells, later)
    found = shown.values({place: exact[place] if place in exact else cells[place] for place in read})
    return cells | {place: stored(value, alone[place]) for place, value in found.items()}


def _exact(value: Any, digits: int | None) -> Any:
    """A value as a cell computes it: None for empty, a number as it is, or rounded where the cell does so."""
    if isinstance(value, str):
        return str(value) or None
    if value is None or value != value:
        return None
    return float(value if digits is None else round(value, digits))


def _untwinned(model: Model, values: Computed) -> Untwinned:
    """The evaluator of the rows that the reference does not give, made once for a model."""
    from builder.engine.witness.untwinned import Untwinned  # late: not every command asks it

    if not model.evaluators:
        given = hashlib.sha256(repr(sorted(values.rows)).encode()).hexdigest()[:8]
        name = f"evaluator-{model.spec.name}-{model.spec.language}-{len(model.layout.slots)}-{given}"
        make = partial(Untwinned, model, values.rows)
        model.evaluators.append(kept(name, make) if model.as_loaded else make())
    return cast("Untwinned", model.evaluators[0])


class _Row(NamedTuple):
    """The formula cells of a row of a list that the reference computes, each with its place in one case of it."""

    shape: tuple[int, ...]
    digits: int | None
    cells: list[tuple[Slot, int]]


@lru_cache(maxsize=8)  # asked of every case
def _by_row(layout: Layout) -> tuple[dict[tuple[str, str], _Row], list[Place], list[Slot], set[tuple[str, str]]]:
    """Those rows, the cells that stay empty, the slots that show others, and the rows that only display."""
    rows: dict[tuple[str, str], _Row] = {}
    empty, echoes, displayed = [], [], set()
    for slot in formula_slots(layout):
        if slot.row.display:
            displayed.add((slot.block.instances.name, slot.row.key))
        elif slot.row.echo:
            echoes.append(slot)
        elif slot.instance in slot.row.cells:
            empty.append(slot.place)
        else:
            key = slot.block.instances.name, slot.row.key
            row = rows.get(key) or rows.setdefault(key, _Row(_shape(slot), slot.row.steady_digits, []))
            row.cells.append((slot, int(np.ravel_multi_index(_index(slot), row.shape)) if row.shape else 0))
    return rows, empty, echoes, displayed


def _shape(slot: Slot) -> tuple[int, ...]:
    """The shape of a row for one case: (), (2,), (k,) or (2, k)."""
    instances = slot.block.instances
    if instances.once:
        return ()
    return (len(instances.owners), len(instances.keys)) if instances.per == "side" else (len(instances.keys),)


def _index(slot: Slot) -> tuple[int, ...]:
    """Where a slot stands in its row."""
    instances = slot.block.instances
    if instances.once:
        return ()
    at = instances.place_of[slot.instance]
    return (instances.owners.index(slot.side), at) if instances.per == "side" else (at,)


def _element(model: Model, array: np.ndarray, slot: Slot, number: int) -> Any:
    try:
        return array[(number, *_index(slot))]
    except IndexError:
        wrong = (
            f"has no value for '{slot.instance}' in the reference, whose list of {slot.block.instances.name} is shorter"
        )
        todo = f"Give the reference this instance too, in {reference_of(model).HOME} ({slot.block.instances.name})"
        raise SpecError(slot.row.file, slot.row.key, wrong, todo) from None


def stored(value: Any, digits: int | None = None) -> Any:
    """A value as it is kept in a cell: None for empty, numbers with a fixed number of digits, noise as 0.

    Rounded to so many decimals where the cell does so."""
    if isinstance(value, str):
        return str(value) or None
    if value is None or value != value:
        return None
    if digits is not None:
        value = round(value, digits)
    elif abs(value) < NOISE:
        return 0.0
    return float(f"{value:.{SIGNIFICANT}g}") + 0.0  # no negative 0
