"""Sheet of the lens power, second part: the formula that leads, and the goal that was published.

Another method: at_ends by ray-transfer matrices and half-angles (vergence, lens_position), where the cells have closed
forms.
An echo: which formula is used, by comparisons as the cells compute it.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import (
    Array,
    EyeValues,
    Values,
    WordArray,
    at_number,
    diagnosed,
    flag,
    place_of,
    select,
    there,
)
from builder.planner.reference.plan.formulas import (
    FORMULAS,
    LENS_CONSTANTS,
    RESHAPED,
    lengths_of,
    places,
    raw_positions,
)

PLACE = {key: place for place, key in enumerate(FORMULAS, start=1)}
SAFE_SIDE = ("holladay1", "haigis", "t2")  # in the order in which ties are settled


def published_goal(k: Array) -> Array:
    """The goal (D) that was published for a mean K (D); NaN above the upper band or without K (watson2014)."""
    low, middle = (
        k < CONSTANTS.goal_band_low - CONSTANTS.rounding_slack,
        k <= CONSTANTS.goal_band_high + CONSTANTS.rounding_slack,
    )
    return np.select([low, middle], [CONSTANTS.published_goal_low, CONSTANTS.published_goal_middle], np.nan)


def lead(values: Values, words: Words) -> None:
    """The formula that leads, and its exact power."""
    eye, w = EyeValues(values), words.get
    reshaped = diagnosed(eye, words, *RESHAPED)
    safe_chosen = eye.lead_formula == w("choice", "safe_side")
    by_hand = there(eye.lead_formula) & ~safe_chosen
    asked = ~by_hand & (safe_chosen | ~(reshaped | diagnosed(eye, words, "regular")))
    power = values.get("formulas", "goal_power")
    gives = dict(zip(FORMULAS, np.moveaxis(there(power), -1, 0), strict=True))
    voices = _voices(power, eye.position_k)
    safe = _strongest(voices)
    srkt_leads = gives["srkt"] & (eye.srkt_width_ratio <= CONSTANTS.srkt_leads_up_to + CONSTANTS.rounding_slack)
    by_haigis, by_holladay = reshaped & gives["haigis"], reshaped & gives["holladay1"]
    chosen = place_of(eye.lead_formula, [w("choice", key) for key in FORMULAS])
    place = np.select(
        [by_hand, asked, by_haigis, by_holladay, reshaped, srkt_leads, gives["t2"]],
        [chosen, safe, PLACE["haigis"], PLACE["holladay1"], np.nan, PLACE["srkt"], PLACE["t2"]],
        safe,
    )
    known = (eye.lead_formula == w("choice", "srkt")) & diagnosed(eye, words, "keratoconus")
    by_hand_said = select([(known, w("word", "lead_srkt_by_hand"))], w("word", "lead_by_hand"))
    said = select(
        [
            (~there(place), ""),
            (by_hand, by_hand_said),
            (asked, w("word", "lead_safe_side")),
            (by_haigis, w("word", "lead_reshaped")),
            (reshaped, w("word", "lead_without_depth")),
            (place == PLACE["srkt"], w("word", "lead_regular")),
            (place == PLACE["t2"], w("word", "lead_regular_steep")),
        ],
        w("word", "lead_safe_side"),
    )
    values.put("formulas", safe_side_power=voices)
    values.put(
        "eyes",
        reshaped=flag(reshaped),
        lead_by_hand=flag(by_hand),
        lead_fixed=flag(by_hand | reshaped & ~asked),
        safe_side_asked=flag(asked),
        lead_name=_named(place, words),
        by_hand_said=np.where(by_hand, by_hand_said, ""),
        lead_said=said,
        lead_place=place,
    )
    for key, row in (
        ("lead_cornea", "cornea_for_vergence"),
        ("lead_optical_length", "optical_length"),
        ("lead_position", "lens_position"),
        ("exact_power", "goal_power"),
    ):
        values.put("eyes", **{key: of_lead(values, row)})


def _voices(power: Array, position_k: Array) -> Array:
    """The powers (D, formulas last) that have a voice on the safe side; NaN for the others."""
    heard = np.array([key in SAFE_SIDE for key in FORMULAS])
    steep = (position_k > CONSTANTS.t2_steepest_k + CONSTANTS.rounding_slack)[..., None] & (np.array(FORMULAS) == "t2")
    return np.where(heard & ~steep, power, np.nan)


def _strongest(voices: Array) -> Array:
    """The place of the first formula within rounding of the strongest power; NaN without any."""
    strongest = np.fmax.reduce(voices, axis=-1)
    first = (voices >= strongest[..., None] - CONSTANTS.rounding_slack).argmax(axis=-1) + 1.0
    return np.where(there(strongest), first, np.nan)


def _named(place: Array, words: Words) -> WordArray:
    """The formula at a place; "" without one."""
    names = np.array(["", *(words.get("choice", key) for key in FORMULAS)], dtype=object)
    return names[np.nan_to_num(place).astype(int)]


def at_ends(values: Values, words: Words) -> None:
    """Which formula would lead with the lowest and with the highest K of the range."""
    eye, w = EyeValues(values), words.get
    k = np.stack([eye.range_lowest, eye.range_highest], axis=-1)
    wide = EyeValues(_repeated(values, k))
    lens = [values.get("eyes", f"chosen_{key}")[..., None] for key in LENS_CONSTANTS]
    lengths = {key: row[..., None] for key, row in lengths_of(values).items()}
    use = places(lengths, k, np.full(k.shape, np.nan), lens)[0].width_ratio
    population = (use > 2 + CONSTANTS.rounding_slack) & (wide.root_counts == 1)
    position_k = np.where(population, CONSTANTS.population_k, k)
    rule, planned = wide.position_k_rule, np.where(there(k), wide.position_k, np.nan)
    position_k = np.where(wide.reshaped == 1, planned, position_k)
    position_k = np.where(there(rule), np.where(rule == w("choice", "same"), k, planned), position_k)
    position_k = np.where(there(use), position_k, np.nan)
    found = places(lengths, position_k, wide.chamber_depth, lens)
    raw = raw_positions(found)
    power = []
    for key, name in zip(FORMULAS, vergence.FORMULAS, strict=True):
        cornea, length = vergence.corneal_power(name, k), vergence.optical_length(name, lengths[key])
        power.append(vergence.lens_power(cornea, length, raw[key], wide.goal_refraction))
    voices = _voices(np.stack(power, axis=-1), position_k)
    ratio, safe = found[0].width_ratio, _strongest(voices)
    regular = np.where(ratio <= CONSTANTS.srkt_leads_up_to + CONSTANTS.rounding_slack, PLACE["srkt"], PLACE["t2"])
    leads = np.where(wide.safe_side_asked == 1, safe, regular)
    values.put(
        "k_ends",
        **{f"end_{key}": voices[..., PLACE[key] - 1] for key in SAFE_SIDE},
        end_lead=_named(np.where((wide.lead_fixed == 1) | ~there(ratio), np.nan, leads), words),
    )


def _repeated(values: Values, like: Array) -> Values:
    """The eyes' rows with a last axis as long as another row's."""
    wide = Values()
    for (owner, key), row in values.rows.items():
        if owner == "eyes" and row.shape == like.shape[:-1]:
            wide.put("eyes", **{key: np.broadcast_to(row[..., None], like.shape)})
    return wide


def of_lead(values: Values, row: str) -> Array:
    """The lead formula's value of a row."""
    return at_number(values.get("formulas", row), values.get("eyes", "lead_place"))
