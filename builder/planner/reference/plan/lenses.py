"""The table of lenses: the examples, and what the clinic typed.

An echo: look-ups, comparisons and straight lines as the cells compute them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.keratometry import light_numbers
from builder.planner.reference.lens_position import a0_haigis2000, pacd_hoffer1993, surgeon_factor_holladay1988
from builder.planner.reference.plan.cells import Values, flag, select, there
from builder.planner.reference.plan.judge import SIGNS, find_name, name_key, squeeze
from builder.planner.reference.plan.readings import Reader

OWN = 6
CYLINDERS = 12
FIELDS = {
    "lens_name": "own_lens_name",
    "lens_kind": "own_lens_kind",
    "lens_a": "own_a_constant",
    "given_surgeon_factor": "own_surgeon_factor",
    "given_hoffer_pacd": "own_hoffer_pacd",
    "given_haigis_a0": "own_haigis_a0",
    "lens_haigis_a1": "own_haigis_a1",
    "lens_haigis_a2": "own_haigis_a2",
    "lens_power_from": "own_power_from",
    "lens_power_to": "own_power_to",
    "lens_power_step": "own_power_step",
    **{f"lens_cylinder{k}": f"own_cylinder{k}" for k in range(1, CYLINDERS + 1)},
}
DEFAULTS = {"lens_haigis_a1": "haigis_a1_default", "lens_haigis_a2": "haigis_a2_default"}  # constants


def read_lenses(
    reader: Reader, examples: Mapping[str, list[Any]], where: Mapping[tuple[str, str], str], labels: list[str]
) -> None:
    """Judges the clinic's lenses and joins them to the examples (cells by field, "" where an example has none)."""
    values = reader.values
    example_names = [str(name) for name in examples["lens_name"]]

    def name_taken(names: NDArray[Any]) -> NDArray[Any]:
        taken, keys = np.full(names.shape, math.nan), np.full(names.shape, "", dtype=object)
        for patient, own in enumerate(names):
            keys[patient] = [name_key(squeeze(str(name))) for name in own]
            for place in np.flatnonzero(there(own)):
                name, alike = squeeze(str(own[place])), (keys[patient] == keys[patient, place]).sum()
                signs = any(sign in name for sign in SIGNS)
                taken[patient, place] = signs or alike > 1 or find_name(name, example_names) is not None
        values.put("own_lenses", name_key=keys)
        return taken

    reader.read("own_lens_name", name_taken)
    first = reader.read("own_power_from")
    for key in [key for key in reader.inputs if reader.owner(key) == "own_lenses"]:
        if key == "own_power_to":
            reader.read(key, lambda last: np.where(there(first) & there(last), flag(last < first), np.nan))
        elif key not in ("own_lens_name", "own_power_from"):
            reader.read(key)
    _own_states(reader, where, labels)
    shape = (reader.typed["own_lens_name"].shape[0], len(example_names))
    table: dict[str, NDArray[Any]] = {}
    for field, own in FIELDS.items():
        word = values.get("own_lenses", own).dtype == object
        empty: Any = "" if word else getattr(CONSTANTS, DEFAULTS[field]) if field in DEFAULTS else math.nan
        cells = [empty if value == "" else value for value in examples[field]]
        fixed = np.broadcast_to(np.array(cells, dtype=object if word else float), shape)
        table[field] = np.concatenate([fixed, values.get("own_lenses", own)], axis=1)
    table |= lens_constants(table)
    table["lens_a0_converted"] = np.where(there(table["lens_a"]), flag(~there(table["given_haigis_a0"])), np.nan)
    values.put("lenses", **table)
    _offers(values, len(example_names))


def _offers(values: Values, examples: int) -> None:
    """What the drop-downs offer: names without a gap, the clinic's own first, then the examples."""
    names = values.get("lenses", "lens_name")
    own = there(names[:, examples:])
    number = np.full(names.shape, math.nan)
    offered = np.full(names.shape, "", dtype=object)
    for patient, row in enumerate(names):
        order = [*(examples + np.flatnonzero(own[patient])), *range(examples)]
        number[patient, order] = np.arange(1.0, len(order) + 1)
        offered[patient, : len(order)] = row[order]
    values.put("lenses", lens_turn=number, lens_offered=offered)
    values.put("plan", lens_offered_count=np.isfinite(number).sum(axis=1).astype(float))
    values.put("plan", **{key: np.full(len(number), value) for key, value in light_numbers().items()})


def lens_constants(table: Mapping[str, NDArray[Any]]) -> dict[str, NDArray[Any]]:
    """The constants of the other formulas: as given, or converted from A (lens_a and given_… in the table)."""
    a_constant = table["lens_a"]
    return {
        key: np.where(there(a_constant), np.where(there(table[given]), table[given], convert(a_constant)), np.nan)
        for key, given, convert in (
            ("lens_surgeon_factor", "given_surgeon_factor", surgeon_factor_holladay1988),
            ("lens_hoffer_pacd", "given_hoffer_pacd", pacd_hoffer1993),
            ("lens_haigis_a0", "given_haigis_a0", a0_haigis2000),
        )
    }


def _own_states(reader: Reader, where: Mapping[tuple[str, str], str], labels: list[str]) -> None:
    values, words = reader.values, reader.words
    keys = [key for key in reader.inputs if reader.owner(key) == "own_lenses"]
    refused = np.stack([values.get("own_lenses", f"refused_{key}") for key in keys], axis=-1)
    states = np.stack([values.get("own_lenses", f"state_{key}") for key in keys], axis=-1)
    refusals = refused.sum(axis=-1)
    sentence = np.full(refusals.shape, "", dtype=object)
    w = partial(words.get, "word")
    for patient, place in np.ndindex(refusals.shape):
        if refusals[patient, place]:
            first = int(refused[patient, place].argmax())
            at = where["own_lens_name", f"own{place + 1}"]
            sentence[patient, place] = (
                f"{w('own_lens')}{place + 1}{w('comma')}{labels[first]}{w('colon')}"
                f"{states[patient, place, first]}{w('type_again_below')}{at}"
            )
    need = ("own_a_constant", "own_power_from", "own_power_to", "own_power_step")
    complete = there(values.get("own_lenses", "own_lens_name")) & there(values.get("own_lenses", "own_lens_kind"))
    for key in need:
        complete &= there(values.get("own_lenses", key))
    typed = (states == w("used")).any(axis=-1)
    state = select(
        [(refusals > 0, w("lens_refused")), (~typed, w("lens_unused")), (complete, w("lens_complete"))],
        w("lens_incomplete"),
    )
    values.put("own_lenses", own_lens_refusals=refusals, own_lens_sentence=sentence, own_lens_state=state)
