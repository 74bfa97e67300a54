"""The second reading: which source is typed again, and whether it agrees.

An echo: look-ups, differences and comparisons as the cells compute them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import (
    Array,
    EyeValues,
    Values,
    WordArray,
    at_number,
    by_rule,
    flag,
    select,
    there,
)
from builder.planner.reference.plan.cornea import CANDIDATES
from builder.planner.reference.plan.lenses import OWN
from builder.planner.reference.plan.sources import OFFERED, SOURCES
from builder.planner.reference.vectors import axis_gap

BOTH_SURFACES = ("front_and_back", "regression")
AGAIN_SOURCES = ("total3", "zone3", "ring")
K_SOURCES = ("total3", "total4", "zone3", "zone4", "second", "ring")


def second_reading(values: Values, words: Words) -> None:
    """Sources to type again, the first readings, and the words agrees or differs."""
    eye, w = EyeValues(values), words.get
    place, behind = eye.source_place, eye.mean_k_source
    zone3, zone4, ring, typed, of_zones = (
        w("choice", key) for key in ("zone3", "zone4", "ring", "typed", "mean_of_zones")
    )
    whole, paired = np.isin(place, [OFFERED.index(key) + 1 for key in BOTH_SURFACES]), eye.zone3_paired == 1
    of_front = select([(paired, zone3)], ring)
    names = np.array([w("choice", key) for key in OFFERED], dtype=object)
    source = select([(~there(place), ""), (whole, of_front)], names[np.nan_to_num(place, nan=1).astype(int) - 1])
    other = select([(source == zone3, zone4)], zone3)
    readings = [w("choice", key) for key in CANDIDATES]
    unread = ~there(behind) | np.isin(behind, [typed, *(w("choice", key) for key in ("map3", "map4"))])
    itself = np.isin(behind, readings) & (behind != w("choice", "back"))
    front = select([(paired, zone3), (eye.ring_paired == 1, ring)])
    behind = select([(unread, ""), (behind == of_zones, other), (itself, behind)], front)
    k_source = select([(behind == source, "")], behind)
    values.put("eyes", again_source=source, again_k_source=k_source)
    first = {f"first_{end}": _of(values, words, source, AGAIN_SOURCES, end) for end in ("flat", "steep", "steep_axis")}
    first |= {f"first_k_{end}": _of(values, words, k_source, K_SOURCES, end) for end in ("flat", "steep")}
    values.put("eyes", **first)
    _also_again(values, words)
    slack = CONSTANTS.rounding_slack
    length, power = CONSTANTS.same_length + slack, CONSTANTS.same_power + slack
    agreed = {
        "same_axial_length": (np.abs(eye.again_axial_length - eye.axial_length), length),
        "same_acd": (np.abs(eye.again_acd - eye.chamber_depth), length),
        "same_flat": (np.abs(eye.again_flat - eye.first_flat), power),
        "same_steep": (np.abs(eye.again_steep - eye.first_steep), power),
        "same_steep_axis": (axis_gap(eye.again_steep_axis, eye.first_steep_axis), CONSTANTS.same_axis + slack),
        "same_k_flat": (np.abs(eye.again_k_flat - eye.first_k_flat), power),
        "same_k_steep": (np.abs(eye.again_k_steep - eye.first_k_steep), power),
        "same_back_flat": (np.abs(eye.again_back_flat_radius - eye.back_flat_radius), length),
        "same_back_steep": (np.abs(eye.again_back_steep_radius - eye.back_steep_radius), length),
        "same_a_constant": (np.abs(eye.again_a_constant - eye.chosen_a), power),
        "same_incision": (eye.incision_gap, CONSTANTS.same_axis + slack),
        "same_flat_radius": (eye.radius_misfit, CONSTANTS.same_radius_share + slack),
        "same_goal": (np.abs(eye.again_goal - eye.goal_refraction), power),
    }
    for key, (gap, limit) in agreed.items():
        values.put(
            "eyes", **{key: select([(~there(gap), ""), (gap <= limit, w("word", "agrees"))], w("word", "differs"))}
        )
    both = there(eye.again_lens) & there(eye.lens_choice)
    values.put(
        "eyes",
        same_lens=select([(~both, ""), (eye.again_lens == eye.lens_choice, w("word", "agrees"))], w("word", "differs")),
    )


def _also_again(values: Values, words: Words) -> None:
    """What else is typed again: the radius beside a reading in dioptres, the back where it decides, the incision."""
    eye, w = EyeValues(values), words.get
    of_axis = np.isin(eye.again_source, [w("choice", "zone3"), w("choice", "ring")])
    of_k = np.isin(eye.again_k_source, [w("choice", key) for key in ("zone3", "zone4", "second", "ring")])
    in_dioptres = eye.keratometry_unit == w("choice", "dioptres")
    reading = np.where(of_axis, eye.first_flat, np.where(of_k, eye.first_k_flat, np.nan))
    reading = np.where(in_dioptres, reading, np.nan)
    by_second = ~of_axis & (eye.again_k_source == w("choice", "second"))
    index = np.where(there(reading), np.where(by_second, eye.second_index, eye.keratometer_index), np.nan)
    told = 1000 * (index - 1) / reading  # the radius that the reading stands for, mm
    back = (eye.mean_k_source == w("choice", "back")) | (eye.source_place == OFFERED.index("front_and_back") + 1)
    turn = np.abs(eye.again_incision_meridian - eye.incision_meridian)
    values.put(
        "eyes",
        radius_of_k=flag(of_k),
        radius_reading=reading,
        radius_index=index,
        radius_misfit=np.abs(eye.again_flat_radius - told) / told,
        back_decides=flag(back),
        incision_gap=np.minimum(turn, 360 - turn),
    )


def second_sources(values: Values, words: Words) -> None:
    """Whether a second source agrees, of length, mean K and cylinder: then there is nothing to measure again."""
    eye, slack, w = EyeValues(values), CONSTANTS.rounding_slack, words.get
    k = np.where(eye.laser_cornea == 1, eye.plain_k, eye.mean_k)
    measured = (np.array(CANDIDATES) != "back") | (eye.mean_k_source == w("choice", "back"))[..., None]
    near = measured & (np.abs(values.get("candidates", "candidate_power") - k[..., None]) <= CONSTANTS.agree_k + slack)
    names = {w("choice", key): float(n + 1) for n, key in enumerate(SOURCES) if key in AGAIN_SOURCES}
    place = by_rule(eye.again_source, {word: np.full(k.shape, n) for word, n in names.items()})
    size, axis = (values.get("sources", f"source_{key}") for key in ("cylinder", "axis"))
    own = at_number(size, place), at_number(axis, place)
    close = np.abs(size - own[0][..., None]) <= CONSTANTS.agree_cylinder + slack
    close &= axis_gap(axis, own[1][..., None]) <= CONSTANTS.agree_axis + slack
    close &= ~np.isin(SOURCES, ("front_and_back", "regression", "refraction"))
    values.put(
        "eyes",
        k_second_agrees=flag(near.sum(axis=-1) > 1),
        cylinder_second_agrees=flag(close.sum(axis=-1) > 1),
        length_second_agrees=flag(eye.same_axial_length == w("word", "agrees")),
    )


def _of(values: Values, words: Words, source: WordArray, keys: tuple[str, ...], end: str) -> Array:
    """A typed reading of the named source; the last of the keys stands for every other word."""
    cases = {words.get("choice", key): values.get("eyes", f"{key}_{end}") for key in keys}
    known = [words.get("choice", key) for key in keys[:-1]]
    word = np.where(there(source) & ~np.isin(source, known), words.get("choice", keys[-1]), source)
    return by_rule(word, cases)


def is_own(values: Values) -> NDArray[np.bool_]:
    """Whether the chosen lens is one that the clinic typed: they stand behind the examples, (n, 2)."""
    return EyeValues(values).lens_place > len(values.get("lenses", "lens_name")[0]) - OWN
