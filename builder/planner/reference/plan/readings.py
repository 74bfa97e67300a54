"""From typed cells to used values: limits that depend on unit and index, contradictions, defaults.

An echo: limits and comparisons as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.model import Input
from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, Values, flag_where, there
from builder.planner.reference.plan.judge import Judged, conclude, judge, said_number, said_outside

OWNERS = {1: "plan", 2: "eyes"}
LISTS = {
    "map_d": "meridians",
    "earlier": "earlier",
    "own_": "own_lenses",
    "old_cuts": "cuts",
    "seen_": "checkups",
    "slip_": "to_confirm",
}


class Reader:
    """Judges the inputs of all patients, in an order in which every limit and contradiction is known in time."""

    def __init__(
        self, inputs: tuple[Input, ...], words: Words, typed: Mapping[str, NDArray[Any]], values: Values
    ) -> None:
        self.inputs = {item.key: item for item in inputs}
        self.words, self.typed, self.values = words, typed, values

    def owner(self, key: str) -> str:
        """The list over which an input is typed."""
        for start, owner in LISTS.items():
            if key.startswith(start):
                return owner
        return OWNERS[self.typed[key].ndim]

    def limit(self, item: Input, end: str) -> Any:
        """The lowest or highest value of an input: a number, a constant or a row; NaN where there is none."""
        value = getattr(item, end)
        if not isinstance(value, str):
            return np.nan if value is None else value
        return getattr(CONSTANTS, value) if CONSTANTS.has(value) else self.values.get("eyes", value)

    def limits(self, item: Input) -> tuple[Any, Any]:
        """The lowest and the highest value of an input, of the shape of its cells or one that broadcasts to it."""
        low, high = self.limit(item, "lowest"), self.limit(item, "highest")
        if self.typed[item.key].ndim > np.ndim(low) > 0:  # a list of each eye, whose limits belong to the eye
            return low[..., None], high[..., None]
        return low, high

    def judged(self, key: str, names: Any = None) -> Judged:
        """State and value before contradictions."""
        item = self.inputs[key]
        low, high = self.limits(item)
        return judge(item, self.typed[key], low, high, self.words, names or (lambda patient: ()))

    def read(self, key: str, conflict: Any = None, names: Any = None) -> NDArray[Any]:
        """Judges an input for good, keeps its rows and returns what is used.

        `conflict`: 1/0/NaN from the accepted value.
        """
        item = self.inputs[key]
        found = self.judged(key, names)
        owner = self.owner(key)
        wrong: Array | None = None
        if conflict is not None:
            wrong = conflict(found.accepted)
            used = found.state == self.words.get("word", "used")
            as_found = item.is_word and item.type != "text"  # in whatever case
            as_typed = np.where(used, self.typed[key], "") if as_found else found.accepted
            self.values.put(
                owner, **{f"judged_{key}": found.state, f"accepted_{key}": as_typed, f"conflict_{key}": wrong}
            )
        default: Any = None
        if item.default:
            table, _, word = item.default.partition(".")
            default = self.words.get("choice", word) if word else getattr(CONSTANTS, table)
        rows = conclude(item, found, wrong, default, self.words)
        if item.thousandths or item.awaits or item.type == "identifier":
            low, high = self.limits(item)
            name, said = ("outside", said_outside) if item.thousandths else ("number", said_number)
            self.values.put(owner, **{f"{name}_{key}": said(item, self.typed[key], low, high, self.words)})
        if found.place is not None:
            self.values.put(owner, **{f"place_{key}": found.place})
        self.values.put(owner, **rows)
        return rows[key]

    def read_all(self, keys: list[str]) -> None:
        """Judges these inputs, in this order."""
        for key in keys:
            self.read(key)


def read_keratometry(reader: Reader) -> None:
    """Ring, zones and second device: their limits in the unit typed, and no steep reading below its flat one."""
    values, words = reader.values, reader.words
    unit = reader.read("keratometry_unit")
    millimetres = unit == words.get("choice", "millimetres")
    slack = CONSTANTS.rounding_slack
    for key, ends in (("keratometer_index", ("reading", "peak")), ("second_index", ("second",))):
        scale = (reader.read(key) - 1) / (CONSTANTS.keratometric_index - 1)
        radius = 1000 * (CONSTANTS.keratometric_index - 1)
        known = (unit != "") & there(scale)
        for end in ends:
            top = CONSTANTS.highest_peak if end == "peak" else CONSTANTS.highest_k
            low = np.where(millimetres, radius / top, CONSTANTS.lowest_k * scale)
            high = np.where(millimetres, radius / CONSTANTS.lowest_k, top * scale)
            values.put(
                "eyes",
                **{f"{end}_lowest": np.where(known, low, np.nan), f"{end}_highest": np.where(known, high, np.nan)},
            )
    for source in ("ring", "zone3", "zone4", "second", "after"):
        flat = reader.read(f"{source}_flat")

        def below(steep: Array, flat: Array = flat) -> Array:
            wrong = np.where(millimetres, flat < steep - slack, steep < flat - slack)
            return flag_where(wrong, unit, flat, steep)

        reader.read(f"{source}_steep", below)
        reader.read_all([f"{source}_flat_axis", f"{source}_steep_axis"])
    for source in ("total3", "total4"):
        flat = reader.read(f"{source}_flat")
        reader.read(f"{source}_steep", lambda steep, flat=flat: flag_where(steep < flat - slack, flat, steep))
        reader.read(f"{source}_steep_axis")
    thick = reader.read("thickness_central")
    typed_thick = values.get("eyes", "state_thickness_central") == words.get("word", "used")

    def above_center(thin: Array) -> Array:
        return flag_where(typed_thick & (thin > thick + slack), thick, thin)

    reader.read("thickness_thinnest", above_center)
    flat = reader.read("back_flat_radius")
    reader.read("back_steep_radius", lambda steep: flag_where(flat < steep - slack, flat, steep))
