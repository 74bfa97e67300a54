"""Sheet of the lens power, second part: the formula that leads, and the goal that was published.

Another method: at_ends by ray-transfer matrices and half-angles (vergence, lens_position), where the cells have closed
forms.
An echo: which formula is used, by comparisons as the cells compute it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words
from builder.planner.reference import vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.keratometry import radius_of_k
from builder.planner.reference.plan.cells import (
    Array,
    EyeValues,
    Values,
    at_number,
    by_rule,
    diagnosed,
    flag,
    select,
    there,
)
from builder.planner.reference.plan.formulas import (
    FORMULAS,
    LENS_CONSTANTS,
    RESHAPED,
    lengths_of,
    place_rows,
    places,
    raw_positions,
)

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
    eye = EyeValues(values)
    w = words.get
    choice = {key: w("choice", key) for key in FORMULAS}
    reshaped = diagnosed(eye, words, *RESHAPED)
    safe_chosen = eye.lead_formula == w("choice", "safe_side")
    by_hand = there(eye.lead_formula) & ~safe_chosen
    asked = ~by_hand & (safe_chosen | ~(reshaped | diagnosed(eye, words, "regular")))
    power = values.get("formulas", "goal_power")
    result = dict(zip(FORMULAS, np.moveaxis(there(power), -1, 0), strict=True))
    voices = _voices(power, eye.position_k)
    strongest, first = _strongest(voices)
    safe = np.where(np.isnan(strongest), "", np.array([choice[key] for key in FORMULAS], dtype=object)[first])
    srkt_leads = result["srkt"] & (eye.srkt_width_ratio <= CONSTANTS.srkt_leads_up_to + CONSTANTS.rounding_slack)
    name = select(
        [
            (by_hand, eye.lead_formula),
            (asked, safe),
            (reshaped & result["haigis"], choice["haigis"]),
            (reshaped & result["holladay1"], choice["holladay1"]),
            (reshaped, ""),
            (srkt_leads, choice["srkt"]),
            (result["t2"], choice["t2"]),
        ],
        "",
    )
    name = np.where(~there(name) & ~reshaped & ~by_hand, safe, name)
    known = (eye.lead_formula == choice["srkt"]) & (eye.corneal_diagnosis == w("choice", "keratoconus"))
    by_hand_said = select([(known, w("word", "lead_srkt_by_hand"))], w("word", "lead_by_hand"))
    reshaped_said = select([(name == choice["haigis"], w("word", "lead_reshaped"))], w("word", "lead_without_depth"))
    said = select(
        [
            (~there(name), ""),
            (by_hand, by_hand_said),
            (asked, w("word", "lead_safe_side")),
            (reshaped, reshaped_said),
            (name == choice["srkt"], w("word", "lead_regular")),
            (name == choice["t2"], w("word", "lead_regular_steep")),
        ],
        w("word", "lead_safe_side"),
    )
    number = by_rule(name, {choice[key]: np.full(name.shape, n + 1.0) for n, key in enumerate(FORMULAS)})
    values.put(
        "formulas",
        safe_side_power=voices,
        goal_there=flag(there(power)),
        asks_strongest=flag(voices >= strongest[..., None] - CONSTANTS.rounding_slack),
    )
    values.put(
        "eyes",
        reshaped=flag(reshaped),
        lead_by_hand=flag(by_hand),
        lead_fixed=flag(by_hand | reshaped & ~asked),
        safe_side_asked=flag(asked),
        strongest_power=strongest,
        safe_name=safe,
        srkt_leads=flag(srkt_leads),
        lead_name=name,
        by_hand_said=by_hand_said,
        reshaped_said=reshaped_said,
        lead_said=said,
        lead_place=number,
    )
    for key, row in (
        ("lead_cornea", "cornea_for_vergence"),
        ("lead_length", "formula_length"),
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


def _strongest(voices: Array) -> tuple[Array, NDArray[np.int_]]:
    """The strongest power (D; NaN without any), and the place of the first formula within rounding of it."""
    strongest = np.fmax.reduce(voices, axis=-1)
    return strongest, (voices >= strongest[..., None] - CONSTANTS.rounding_slack).argmax(axis=-1)


def at_ends(values: Values, words: Words) -> None:
    """Which formula would lead with the lowest and with the highest K of the range."""
    eye, w = EyeValues(values), words.get
    k = np.stack([eye.range_lowest, eye.range_highest], axis=-1)
    wide = EyeValues(_repeated(values, k))
    lens = [values.get("eyes", f"chosen_{key}")[..., None] for key in LENS_CONSTANTS]
    lengths = {key: row[..., None] for key, row in lengths_of(values).items()}
    use = places(lengths, k, np.full(k.shape, np.nan), lens)[0].root_use
    population = (use > 2 + CONSTANTS.rounding_slack) & (wide.root_counts == 1)
    position_k = np.where(population, CONSTANTS.population_k, k)
    rule, planned = wide.position_k_rule, np.where(there(k), wide.position_k, np.nan)
    position_k = np.where(wide.reshaped == 1, planned, position_k)
    position_k = np.where(there(rule), np.where(rule == w("choice", "same"), k, planned), position_k)
    position_k = np.where(there(use), position_k, np.nan)
    found = places(lengths, position_k, wide.chamber_depth, lens)
    raw = raw_positions(found)
    power, rows = {}, {}
    for key, name in zip(FORMULAS, vergence.FORMULAS, strict=True):
        length = vergence.optical_length(name, lengths[key])
        if key in SAFE_SIDE:
            counts = np.where(
                there(raw[key]) & there(length), flag(vergence.position_is_valid(length, raw[key])), np.nan
            )
            if key == "t2":
                counts = np.where(position_k <= CONSTANTS.t2_steepest_k + CONSTANTS.rounding_slack, counts, counts * 0)
            rows[f"end_{key}_front"] = vergence.corneal_power(name, k) + wide.goal_at_cornea
            rows["holladay_counts" if key == "holladay1" else f"{key}_counts"] = counts
        power[key] = vergence.lens_power(vergence.corneal_power(name, k), length, raw[key], wide.goal_refraction)
    voices = _voices(np.stack(list(power.values()), axis=-1), position_k)
    strongest, first = _strongest(voices)
    safe = np.array([w("choice", key) for key in FORMULAS], dtype=object)[first]
    by_key = dict(zip(FORMULAS, np.moveaxis(voices, -1, 0), strict=True))
    ratio = found[0].root_use
    regular = np.where(
        ratio <= CONSTANTS.srkt_leads_up_to + CONSTANTS.rounding_slack, w("choice", "srkt"), w("choice", "t2")
    )
    silent = (wide.lead_by_hand == 1) | ((wide.reshaped == 1) & (wide.safe_side_asked == 0)) | ~there(ratio)
    asked = wide.safe_side_asked == 1
    values.put(
        "k_ends",
        end_k=k,
        end_root_use=use,
        position_k=position_k,
        position_radius=radius_of_k(position_k),
        **{key: np.broadcast_to(row, k.shape) for key, row in place_rows(found).items()},
        end_radius=radius_of_k(k),
        **{f"end_{key}": by_key[key] for key in SAFE_SIDE},
        end_strongest=strongest,
        holladay_is_strongest=_flag_there(by_key["holladay1"], strongest),
        haigis_is_strongest=_flag_there(by_key["haigis"], strongest),
        end_srkt_leads=np.where(
            there(ratio), flag(ratio <= CONSTANTS.srkt_leads_up_to + CONSTANTS.rounding_slack), np.nan
        ),
        **rows,
        end_safe_name=np.where(there(strongest), safe, ""),
        end_lead=select([(silent, ""), (asked & ~there(strongest), ""), (asked, safe)], regular.astype(object)),
    )


def _repeated(values: Values, like: Array) -> Values:
    """The eyes' rows with a last axis as long as another row's."""
    wide = Values()
    for (owner, key), row in values.rows.items():
        if owner == "eyes" and row.shape == like.shape[:-1]:
            wide.put("eyes", **{key: np.broadcast_to(row[..., None], like.shape)})
    return wide


def _flag_there(power: Array, strongest: Array) -> Array:
    return np.where(there(power) & there(strongest), flag(power >= strongest - CONSTANTS.rounding_slack), np.nan)


def of_lead(values: Values, row: str) -> Array:
    """The lead formula's value of a row."""
    return at_number(values.get("formulas", row), values.get("eyes", "lead_place"))
