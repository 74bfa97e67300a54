"""What holds a plan back: needs, points of the plan and of each eye, their sentences.

An echo: comparisons and counts as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.errors import SpecError
from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, both_agree, diagnosed, there
from builder.planner.reference.plan.checked import COMPARED
from builder.planner.reference.plan.surfaces import half_pairs

Live = dict[str, Array]


def count_there(*rows: NDArray[Any]) -> NDArray[np.int_]:
    """How many of the rows hold something, cell by cell."""
    return np.sum([there(row) for row in rows], axis=0)


def above(row: Array, limit: float) -> NDArray[np.bool_]:
    """Where a number is there and lies above a limit, rounding aside."""
    return there(row) & (np.nan_to_num(row) > limit + CONSTANTS.rounding_slack)


def outside(row: Array, low: Array | float, high: Array | float) -> NDArray[np.bool_]:
    """Where a number lies outside its limits, rounding aside."""
    return np.asarray((row < low - CONSTANTS.rounding_slack) | (row > high + CONSTANTS.rounding_slack))


def of_each(computed: Mapping[str, Array], key: str, what: str) -> Array:
    """What is computed for one entry of the specs. Raises SpecError for an entry that is not computed here."""
    if key not in computed:
        todo = f"Compute it there, or remove the {what} from the specs"
        raise SpecError("builder/planner/reference/plan/points.py", key, f"is a {what} that is not computed here", todo)
    return computed[key]


def eye_points(values: Values, words: Words, lacking: Mapping[str, Array]) -> Live:
    """Every point of an eye beside its refused inputs: live or not."""
    eye = EyeValues(values)
    w = words.get
    differs = w("word", "differs")
    typed_rule = (eye.k_rule_used == w("choice", "typed")) & there(eye.typed_k)
    reach = CONSTANTS.typed_k_reach
    beyond = outside(eye.typed_k, eye.lowest_candidate - reach, eye.highest_candidate + reach)
    parts = [values.get("eyes", f"chosen_{key}") for key in ("kind", "a", "power_from", "power_to", "power_step")]
    values.put("eyes", lens_parts=count_there(*parts))
    unstated = there(eye.lens_place) & (eye.lens_parts < len(parts))
    asked = count_there(eye.mean_k, eye.axial_length, eye.goal_refraction, eye.chosen_a, eye.position_k) == 5
    laser = diagnosed(eye, words, "after_myopic_laser", "after_hyperopic_laser")
    spread = eye.range_spread
    wide, very_wide = above(spread - eye.spread_limit, 0.0), above(spread, CONSTANTS.spread_to_confirm)
    length, fellow_length = eye.axial_length, eye.axial_length[:, ::-1]
    mean, fellow_mean = eye.mean_k, eye.mean_k[:, ::-1]
    old = np.where(diagnosed(eye, words, "regular"), CONSTANTS.biometry_old_regular, CONSTANTS.biometry_old_irregular)
    no_candidate = eye.candidate_count == 0

    def empty(need: str, refused: Array) -> Array:
        """What is refused has its own sentence and is not called missing besides."""
        return np.where(refused == 1, 0.0, lacking[need])

    live = {
        "missing_diagnosis": empty("need_diagnosis", eye.refused_corneal_diagnosis),
        "missing_length": empty("need_length", eye.refused_axial_length),
        "missing_cornea": np.where(no_candidate, lacking["need_cornea"], 0.0),
        "missing_rule_data": np.where(no_candidate, 0.0, lacking["need_cornea"]),
        "missing_goal": empty("need_goal", eye.refused_goal_refraction),
        "missing_lens": empty("need_lens", eye.refused_lens_choice),
        "incomplete_lens": unstated,
        "missing_vector": lacking["need_vector"],
        "missing_incision": empty("need_incision", eye.refused_incision_meridian),
        "missing_before_laser_k": (eye.position_rule_used == w("choice", "before_laser")) & ~there(eye.before_laser_k),
        "lead_without_result": asked & ~there(eye.exact_power),
        "no_power_in_range": there(eye.exact_power) & there(eye.steps_to_last) & ~there(eye.lens_power),
        "no_cylinder_result": there(eye.lens_power) & there(eye.total_x) & ~there(eye.predicted_cylinder),
        **{f"differs_{key}": values.get("eyes", f"same_{key}") == differs for key in COMPARED},
        "typed_k_without_reason": typed_rule & ~there(eye.typed_k_reason),
        "typed_k_outside": typed_rule & (~there(eye.lowest_candidate) | beyond),
        "spread_very_wide": very_wide,
        "changed_after_check": eye.same_checked_code == differs,
        "ectasia_without_back": diagnosed(eye, words, "ectasia_after_laser") & ~there(eye.measured_whole_k),
        **{f"half_{key}": alone for key, alone in half_pairs(values).items()},
        **{key.replace("need_again", "again_missing"): row for key, row in lacking.items() if "need_again" in key},
        "again_missing_code": lacking["need_checked_code"],
        "spread_wide": wide & ~very_wide,
        "two_steps": eye.two_steps_asked == 1,
        "one_candidate": eye.joined_count == 1,
        "keratometry_after_laser": laser
        & (
            np.isin(eye.k_rule_used, [w("choice", rule) for rule in ("lowest", "mean_of_zones", "ring")])
            | typed_rule & above(eye.typed_k - eye.after_laser_k, reach)
        ),
        "total_without_offset": ~there(values.get("plan", "total_offset"))[:, None]
        & np.isin(eye.mean_k_source, [w("choice", "total3"), w("choice", "total4")]),
        "srkt_near_root": (eye.lead_name == w("choice", "srkt"))
        & above(eye.srkt_width_ratio, CONSTANTS.srkt_root_warning),
        "hoffer_too_steep": (eye.lead_name == w("choice", "hofferq"))
        & above(eye.position_k, CONSTANTS.hoffer_warning_k),
        "t2_too_steep": (eye.lead_name == w("choice", "t2")) & above(eye.position_k, CONSTANTS.t2_steepest_k),
        "lead_differs": _ends_differ(values),
        "safe_side_without_depth": (eye.safe_side_asked == 1) & there(length) & there(mean) & ~there(eye.chamber_depth),
        "a0_converted": (eye.lead_name == w("choice", "haigis")) & (eye.chosen_a0_converted == 1),
        "formulas_disagree": above(eye.formula_spread - eye.formulas_limit, 0.0),
        "goal_above_zero": there(eye.goal_refraction) & (eye.goal_refraction > 0),
        "length_unusual": (eye.length_second_agrees == 0) & outside(length, CONSTANTS.short_eye, CONSTANTS.long_eye),
        "cornea_unusual": (eye.k_second_agrees == 0) & outside(mean, CONSTANTS.flat_cornea, CONSTANTS.steep_cornea),
        "cylinder_high": (eye.cylinder_second_agrees == 0) & above(eye.cornea_cylinder, CONSTANTS.high_cylinder),
        "lengths_differ": ~both_agree(eye.length_second_agrees)
        & above(np.abs(length - fellow_length), CONSTANTS.eyes_differ_length),
        "corneas_differ": ~both_agree(eye.k_second_agrees) & above(np.abs(mean - fellow_mean), CONSTANTS.eyes_differ_k),
        "incision_near": np.isin(eye.incision_warning, [w("word", "crosses"), w("word", "close_to")]),
        "side_port_near": eye.side_port_rank < 3,
        "eyes_apart": above(np.abs(eye.eyes_difference), CONSTANTS.eyes_apart_limit),
        "pellucid_incision": diagnosed(eye, words, "pellucid")
        & there(eye.incision_meridian)
        & ~outside(eye.incision_meridian, CONSTANTS.pellucid_from, CONSTANTS.pellucid_to),
        "back_not_measured": (eye.toric_wanted == 1) & (eye.back_unmeasured == 1),
        "verdict_against": (eye.toric_wanted == 1)
        & np.isin(eye.toric_verdict, [w("word", "verdict_not_supported"), w("word", "verdict_not_enough")]),
        "contact_lens_short": _too_few_days(eye, words),
        "steep_without_back": diagnosed(eye, words, "keratoconus", "ectasia_after_laser", "pellucid")
        & above(mean, CONSTANTS.back_wanted_from)
        & ~there(eye.measured_whole_k),
        "map_unlike": there(values.get("rings", "unlike_at")).any(axis=-1),
        "biometry_old": there(eye.biometry_age_months) & (eye.biometry_age_months > old),
    }
    return {key: np.asarray(value, dtype=float) for key, value in live.items()}


def _too_few_days(eye: EyeValues, words: Words) -> NDArray[np.bool_]:
    """Where contact lenses were left out for too short a time."""
    days, short = eye.days_out_of_contact_lens, np.zeros(eye.mean_k.shape, bool)
    for kind, needed in (("soft", CONSTANTS.soft_holiday), ("rigid", CONSTANTS.rigid_holiday)):
        short |= (eye.contact_lens == words.get("choice", kind)) & (days < needed - CONSTANTS.rounding_slack)
    return short


def _ends_differ(values: Values) -> NDArray[np.bool_]:
    """Where the lead formula changes between the lowest and the highest K."""
    low, high = np.moveaxis(values.get("k_ends", "end_lead"), -1, 0)
    return there(low) & there(high) & (low != high)


def put_points(
    values: Values,
    words: Words,
    list_name: str,
    prefix: str,
    order: Sequence[str],
    live: Live,
    sentences: Mapping[str, Any],
    levels: Mapping[str, str],
) -> tuple[Array, dict[str, Array]]:
    """The table of points: number, live, sentence. Returns how many are live, in all and by level."""
    lives = np.stack([of_each(live, key, "point") for key in order], axis=-1)
    number = np.where(lives == 1, np.cumsum(lives, axis=-1), 0.0)
    sentence = np.full(lives.shape, "", dtype=object)
    for n, key in enumerate(order):
        sentence[..., n] = np.where(lives[..., n] == 1, np.asarray(sentences[key], dtype=object), "")
    values.put(list_name, **{f"{prefix}_number": number, f"{prefix}_live": lives, f"{prefix}_sentence": sentence})
    by_level = {
        level: sum((lives[..., n] for n, key in enumerate(order) if levels[key] == level), np.zeros(lives.shape[:-1]))
        for level in ("stop", "confirm", "open", "soft")
    }
    return lives.sum(axis=-1), by_level
