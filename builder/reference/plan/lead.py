"""Sheet of the lens power, second part: the formula that leads, and the goal that was published."""

from __future__ import annotations

import numpy as np

from builder.reference.constants import CONSTANTS, SLACK
from builder.reference.plan.cells import Array, EyeValues, Values, at_number, by_rule, diagnosed, flag, select, there
from builder.reference.plan.formulas import FORMULAS, RESHAPED
from builder.spec.words import Words


def published_goal(k: Array) -> Array:
    """The goal (D) that was published for a mean K (D); NaN above the upper band or without K (watson2014)."""
    low, middle = k < CONSTANTS.goal_band_low - SLACK, k <= CONSTANTS.goal_band_high + SLACK
    return np.select([low, middle], [CONSTANTS.published_goal_low, CONSTANTS.published_goal_middle], np.nan)


def lead(values: Values, words: Words) -> None:
    """The formula that leads, and its exact power."""
    eye = EyeValues(values)
    w = words.get
    special = diagnosed(eye, words, *RESHAPED)
    preferred = special | (eye.width_ratio_at_mean_k > CONSTANTS.srkt_root_warning + SLACK)
    result = there(values.get("formulas", "goal_power"))
    srkt, holladay, hoffer, haigis, _ = (result[..., n] for n in range(len(FORMULAS)))
    cases = [
        (there(eye.lead_formula), eye.lead_formula),
        (preferred & haigis, w("choice", "haigis")),
        (srkt, w("choice", "srkt")),
        (haigis, w("choice", "haigis")),
        (holladay, w("choice", "holladay1")),
        (hoffer, w("choice", "hofferq")),
    ]
    name = select(cases)
    said = select(
        [
            (~there(name), ""),
            (there(eye.lead_formula), w("word", "rule_chosen")),
            (preferred & (name == w("choice", "haigis")), w("word", "lead_default_haigis")),
            (name == w("choice", "srkt"), w("word", "lead_default_srkt")),
        ],
        w("word", "lead_default_next"),
    )
    number = by_rule(name, {w("choice", key): np.full(name.shape, n + 1.0) for n, key in enumerate(FORMULAS)})
    values.put("eyes", haigis_preferred=flag(preferred), lead_name=name, lead_said=said, lead_place=number)
    for key, row in (
        ("lead_cornea", "cornea_for_vergence"),
        ("lead_optical_length", "optical_length"),
        ("lead_position", "lens_position"),
        ("exact_power", "goal_power"),
    ):
        values.put("eyes", **{key: of_lead(values, row)})


def of_lead(values: Values, row: str) -> Array:
    """The lead formula's value of a row."""
    return at_number(values.get("formulas", row), values.get("eyes", "lead_place"))
