"""Sheet of the cornea, second part: candidates, rule, chosen mean power.

Another method: probable_error sorts two readings, where the cells take MAX and MIN of their difference; a total power
becomes a K by ray-transfer matrices (keratometry), where they have the equation of a thick lens.
An echo: means, least and greatest candidate and the choice by rule as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import keratometry
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import (
    Array,
    EyeValues,
    Values,
    by_rule,
    diagnosed,
    flag,
    highest,
    lowest,
    select,
    there,
)

CANDIDATES = ("ring", "zone3", "zone4", "second", "map3", "map4", "back", "total3", "total4")
TOTALS = ("total3", "total4")


def candidates(values: Values, words: Words, discs: tuple[Array, Array]) -> dict[str, Array]:
    """The table of candidates; `discs`: the map's means over 3 and 4 mm."""
    eye = EyeValues(values)
    powers = {
        key: (values.get("eyes", f"{key}_flat_power") + values.get("eyes", f"{key}_steep_power")) / 2
        for key in ("ring", "zone3", "zone4", "second")
    }
    powers["map3"], powers["map4"] = discs
    powers["back"] = eye.back_corrected_k
    powers["total3"] = keratometry.total_power_equivalent_k(eye.total3_flat, eye.total3_steep)
    powers["total4"] = keratometry.total_power_equivalent_k(eye.total4_flat, eye.total4_steep)
    offset = values.get("plan", "total_offset")[:, None]
    shift = np.nan_to_num(offset) + np.zeros(powers["ring"].shape)
    joined = dict(powers)
    for key in TOTALS:
        powers[key] = powers[key] - shift
        joined[key] = np.where(there(offset), powers[key], np.nan)
    table, joining = (np.stack([part[key] for key in CANDIDATES], axis=-1) for part in (powers, joined))
    low, high = lowest(*joined.values()), highest(*joined.values())
    values.put(
        "candidates", candidate_power=table, candidate_joined=joining, candidate_over_lowest=table - low[..., None]
    )
    first = select([(joined[key] == low, words.get("choice", key)) for key in CANDIDATES])
    values.put(
        "eyes",
        candidate_count=there(table).sum(axis=-1).astype(float),
        joined_count=there(joining).sum(axis=-1).astype(float),
        lowest_candidate=low,
        highest_candidate=high,
        candidate_spread=high - low,
        lowest_candidate_source=first,
    )
    return powers


def choose_power(values: Values, words: Words, powers: dict[str, Array]) -> None:
    """Rule in force, mean K and where it comes from."""
    eye = EyeValues(values)
    w = words.get
    laser = eye.laser_cornea == 1
    rule = select([(there(eye.k_rule), eye.k_rule), (laser, w("choice", "after_laser"))], w("choice", "lowest"))
    zones = (powers["zone3"] + powers["zone4"]) / 2
    total_source = select([(there(powers[key]), w("choice", key)) for key in ("total3", "total4", "back")])
    total = by_rule(total_source, {w("choice", key): powers[key] for key in ("total3", "total4", "back")})
    of_rule = {
        w("choice", "lowest"): eye.lowest_candidate,
        w("choice", "mean_of_zones"): zones,
        w("choice", "ring"): powers["ring"],
        w("choice", "total"): total,
        w("choice", "after_laser"): eye.after_laser_k,
        w("choice", "typed"): eye.typed_k,
    }
    mean = by_rule(rule, of_rule)
    source = select(
        [
            (~there(mean), ""),
            (rule == w("choice", "lowest"), eye.lowest_candidate_source),
            (rule == w("choice", "total"), total_source),
            (rule == w("choice", "after_laser"), eye.after_laser_source),
            (there(mean), rule),
        ]
    )
    front_alone = (
        diagnosed(eye, words, "keratoconus", "ectasia_after_laser", "pellucid")
        & ~there(eye.measured_whole_k)
        & (np.nan_to_num(mean) > CONSTANTS.goal_band_low + CONSTANTS.rounding_slack)
    )
    values.put(
        "eyes",
        k_rule_used=rule,
        typed_k_over_laser=eye.typed_k - eye.after_laser_k,
        total_k_source=total_source,
        mean_k=mean,
        mean_k_source=source,
        mean_radius=keratometry.radius_of_k(mean),
        front_alone=flag(front_alone),
    )


def probable_error(values: Values, words: Words) -> None:
    """Which way mean K probably errs: nine traced cones in ten used no less than `used_least`."""
    eye = EyeValues(values)
    ring, zone3 = (values.get("candidates", "candidate_power")[..., CANDIDATES.index(key)] for key in ("ring", "zone3"))
    told = diagnosed(eye, words, "keratoconus") & there(eye.mean_k) & there(ring) & there(zone3)
    ends = np.sort(np.stack([ring, zone3]), axis=0)
    least, most = ends[0] - CONSTANTS.used_below * (ends[1] - ends[0]), ends[1]
    myopic, hyperopic = (
        np.where(told, np.clip(off, 0, None), np.nan) for off in (most - eye.mean_k, eye.mean_k - least)
    )
    values.put(
        "eyes",
        errs_myopic=myopic,
        errs_hyperopic=hyperopic,
    )
