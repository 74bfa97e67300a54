"""The bench: traced eyes with all that is judged of them, errors of K and of the plan, by rule and meaning of focus.

A rule's error here is its corneal power less what light used of the cornea: only K errs. All are counted from the mean
of the regular eyes, as a clinic's own lens constant would do. Powers in D; arrays (eyes,).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from builder.planner.reference import after_laser, vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.keratometry import back_corrected_k
from builder.planner.reference.lens_position import position_srkt_retzlaff1990

from .eyes import LENS_A, MEANINGS, Line, diagnosis, name, numbers
from .planned import REGULAR, Array, Planned
from .rules import ks

NO_HISTORY = (after_laser.k_shammas2003, after_laser.k_haigis2008, after_laser.k_wang2004)
LEAD_BEFORE, LEAD = "SRK/T, near its root Haigis", "the lead now"


Entry = Mapping[str, Any]


class Shown(NamedTuple):
    """One line: of whom and what, of how many eyes, under the four meanings."""

    what: str
    eyes: int
    values: tuple[float, ...]


class Tried(NamedTuple):
    """The lines of a rule, and under which meanings what it says holds."""

    lines: list[Shown]
    holds: tuple[bool, ...]


class Bench(NamedTuple):
    """Eyes, their plans, and errors by meaning and rule."""

    lines: list[Line]
    planned: Planned
    k: Mapping[str, Array]
    error: Mapping[tuple[str, str], Array]

    def kinds(self, *starts: str) -> Array:
        """Which eyes are of kinds that begin so."""
        return np.array([kind.startswith(starts) for kind in self.planned.kinds])


def k_by_rule(lines: list[Line]) -> dict[str, Array]:
    """K by each rule that is, was or might be one; NaN where it has none."""
    keys = [key for key in lines[0] if key[:5] != "used_" and key not in ("kind", "map_center")]
    reading = {key: numbers(lines, key) for key in keys} | {"map_center": numbers(lines, "map_center")[:, None]}
    found = ks(reading)
    plain = (reading["zone3_flat"] + reading["zone3_steep"]) / 2
    zone4 = (reading["zone4_flat"] + reading["zone4_steep"]) / 2
    back = reading["back_flat_radius"], reading["back_steep_radius"], reading["thickness_central"]
    valid = np.ma.masked_invalid(np.stack([method(plain) for method in NO_HISTORY]))
    found |= {"lowest of no history": valid.min(axis=0).filled(np.nan)}
    ordered, there = np.sort(valid.filled(np.inf), axis=0), valid.count(axis=0)
    found |= {"median of no history": _middle(ordered, there)}
    found |= {"lowest, totals too": np.fmin(found["lowest"], found["total"])}
    return found | {"back-corrected, unlike zones": back_corrected_k(zone4, *back)}


def bench(lines: list[Line], planned: Planned) -> Bench:
    """Judges the rules for K on planned eyes; at least some of them must be regular."""
    k = k_by_rule(lines)
    error: dict[tuple[str, str], Array] = {}
    regular = planned.kinds == REGULAR
    root = position_srkt_retzlaff1990(numbers(lines, "axial_length"), planned.plan["mean_k"], LENS_A).width_ratio
    near = root > CONSTANTS.srkt_root_warning
    for meaning in MEANINGS:
        used = numbers(lines, name(meaning, "mean"))
        for rule, power in k.items():
            off = vergence.corneal_power("Holladay 1", power) - used
            error[meaning, rule] = off - np.nanmean(off[regular])
        error[meaning, LEAD] = planned.error[meaning]
        srkt, haigis = (planned.by_formula[meaning, key] for key in ("srkt", "haigis"))
        error[meaning, LEAD_BEFORE] = np.where(near | np.isnan(srkt), haigis, srkt)
    return Bench(lines, planned, k, error)


def cones(found: Bench) -> Array:
    """Which eyes are keratoconus."""
    return np.array([diagnosis(kind) == "keratoconus" for kind in found.planned.kinds])


def _middle(ordered: Array, count: Array) -> Array:
    """The median of the first `count` of values that are in order; NaN of none."""
    places = [np.maximum(place, 0)[None] for place in ((count - 1) // 2, count // 2)]
    low, high = (np.take_along_axis(ordered, place, axis=0)[0] for place in places)
    return np.where(count > 0, (low + high) / 2, np.nan)


def bands(value: Array, limits: Sequence[str]) -> Iterator[tuple[str, Array]]:
    """Eyes by bands of a value; limits by the keys of constants. A limit belongs to the milder band."""
    ends = [getattr(CONSTANTS, key) for key in limits]
    for low, high in zip([-np.inf, *ends], [*ends, np.inf], strict=True):
        yield f"above {low:g}" if np.isinf(high) else f"to {high:g}", (value > low) & (value <= high)
