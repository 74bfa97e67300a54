"""The points that the figures of the slips make live.

An echo: comparisons as the cells compute them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, diagnosed, there


def slip_points(values: Values, words: Words) -> dict[str, NDArray[np.bool_]]:
    """The points of an eye that the figures make live."""
    eye, w, c = EyeValues(values), words.get, CONSTANTS
    own = np.nan_to_num(eye.lens_own) == 1
    same = np.where(there(eye.lengths_apart) & there(eye.ring_apart), eye.lengths_apart + eye.ring_apart, np.inf)
    no_cylinders = there(values.get("options", "option_offered")).sum(axis=-1) < 2
    opened = there(eye.incision_meridian)

    def over(row: Array, limit: float) -> NDArray[np.bool_]:
        return np.nan_to_num(row) > limit + CONSTANTS.rounding_slack

    return {
        "same_in_both_eyes": same < CONSTANTS.rounding_slack,
        "natural_far_apart": over(eye.natural_apart, c.natural_apart_confirm),
        "axes_exchanged": over(eye.worst_pair, c.pair_axes_limit),
        "own_a_unlikely": over(eye.a_beyond, 0.0),
        "own_constants_unlike": own & over(eye.constants_apart, c.own_constants_reach),
        "own_cylinders_unordered": own & (np.nansum(values.get("options", "option_unordered"), axis=-1) > 0),
        "own_step_unlikely": own & over(eye.step_apart, 0.0),
        "own_toric_without": own & (eye.toric_wanted == 1) & no_cylinders,
        "incision_effect_large": opened & over(eye.effect_here, c.large_incision_effect),
        "mark_slipped": over(eye.marks_apart, c.mark_slip),
        "example_lens": there(eye.lens_place) & ~own & (eye.demo_file == 0),
        "fellow_refused": there(eye.refused_place[:, ::-1]),
        "natural_unlikely": over(eye.natural_beyond, 0.0),
        "natural_lenses_apart": over(eye.natural_between, c.natural_apart_warning),
        "lengths_unlike_refractions": over(eye.lengths_alike, c.lengths_apart_limit),
        "ring_unlike_zone": over(eye.ring_over_zone, c.ring_zone_limit),
        "second_unlike": over(eye.second_over_front, c.second_front_limit),
        "total_scale": over(eye.total_beyond, 0.0),
        "peak_for_steep": eye.peak_nearest <= c.peak_near + CONSTANTS.rounding_slack,
        "chamber_unlikely": over(eye.chamber_beyond, 0.0),
        "depth_and_lens_unlikely": over(eye.depth_beyond, 0.0),
        "incision_nasal": eye.from_nasal <= c.nasal_half + CONSTANTS.rounding_slack,
        "goal_deep": eye.goal_refraction < c.goal_deep_below - CONSTANTS.rounding_slack,
        "goals_unlike": over(eye.goals_apart, c.goals_apart_limit),
        "prediction_off_goal": over(eye.off_goal, c.off_goal_limit),
        "hyperopia_likely": over(eye.hyperopia_here, c.hyperopia_likely_from),
        "before_laser_flatter": over(eye.flatter_before, 0.0),
        "before_laser_unlikely": over(eye.before_laser_beyond, 0.0),
        "srkt_same_after_laser": diagnosed(eye, words, "after_myopic_laser", "after_hyperopic_laser")
        & (eye.lead_name == w("choice", "srkt"))
        & (eye.position_rule_used == w("choice", "same")),
        "laser_untold": over(eye.ratio_beyond, 0.0),
        "residual_high": over(eye.residual_here, c.residual_cylinder_limit),
    }
