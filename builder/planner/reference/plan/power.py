"""Sheet of the lens power, second part: the step to a lens, the powers around it, other corneal powers.

Another method: in_focus, around and other_powers by ray-transfer matrices (vergence), where the cells have vergence
equations in closed form.
An echo: the step to a lens, what lies in range and the spread as the cells compute them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words
from builder.planner.reference import vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, flag_where, select, there
from builder.planner.reference.plan.formulas import FORMULAS
from builder.planner.reference.plan.lead import of_lead
from builder.planner.reference.toric import step_count


def step(values: Values, words: Words) -> None:
    """From the exact power to a lens, and what each formula predicts with it."""
    eye = EyeValues(values)
    w = words.get
    nearest = eye.step_rule == w("choice", "nearest")
    number = (eye.exact_power - eye.chosen_power_from) / eye.chosen_power_step
    last = np.round((eye.chosen_power_to - eye.chosen_power_from) / eye.chosen_power_step, 6)
    taken = step_count(eye.exact_power, eye.chosen_power_from, eye.chosen_power_step, nearest)
    taken = np.where(there(eye.step_rule), taken, np.nan)
    inside = (
        (number >= -CONSTANTS.rounding_slack)
        & (number <= last + CONSTANTS.rounding_slack)
        & (taken <= last + CONSTANTS.rounding_slack)
    )
    power = np.where(inside, eye.chosen_power_from + taken * eye.chosen_power_step, np.nan)
    in_range = flag_where(inside, taken, last)
    cornea, length, position = (
        values.get("formulas", key) for key in ("cornea_for_vergence", "optical_length", "lens_position")
    )
    predicted = in_focus(cornea, length, position, power[..., None])
    values.put("formulas", refraction_predicted=predicted)
    mean = of_lead(values, "refraction_predicted")
    valid = np.where(_valid_here(eye), predicted, np.nan)
    spread = np.fmax.reduce(valid, axis=-1) - np.fmin.reduce(valid, axis=-1)
    values.put(
        "eyes",
        steps_to_last=last,
        steps_taken=taken,
        power_in_range=in_range,
        lens_power=power,
        predicted_mean=mean,
        formula_spread=np.where(there(mean), spread, np.nan),
    )


def _valid_here(eye: EyeValues) -> NDArray[np.bool_]:
    """In which eyes each formula (last axis) is within the range for which its position is trusted."""
    c, k = CONSTANTS, eye.position_k
    within = {
        "srkt": eye.srkt_width_ratio <= c.srkt_leads_up_to + CONSTANTS.rounding_slack,
        "hofferq": k <= c.hoffer_warning_k + CONSTANTS.rounding_slack,
        "t2": k <= c.t2_steepest_k + CONSTANTS.rounding_slack,
    }
    return np.stack([within.get(key, np.full(k.shape, True)) for key in FORMULAS], axis=-1)


def in_focus(cornea: Array, length: Array, position: Array, lens: Array) -> Array:
    """The refraction (D) that spectacles can give, from powers (D), optical length and position (mm)."""
    at_cornea = vergence.refraction(cornea, length, position, lens, 0.0)
    return _worn(at_cornea, vergence.refraction(cornea, length, position, lens))


def around(values: Values, words: Words) -> None:
    """Nine lens powers around the choice by every formula."""
    eye = EyeValues(values)
    off = np.arange(-4.0, 5.0)
    taken = eye.steps_taken[..., None] + off
    inside = (taken >= 0) & (taken <= eye.steps_to_last[..., None] + CONSTANTS.rounding_slack)
    power = np.where(inside, eye.lens_power[..., None] + off * eye.chosen_power_step[..., None], np.nan)
    marked = (off == 0) & there(power)
    values.put("around", around_power=power, around_mark=select([(marked, words.get("word", "this_lens"))]))
    for number, key in enumerate(FORMULAS):
        cornea, length, position = (
            values.get("formulas", row)[..., number, None]
            for row in ("cornea_for_vergence", "optical_length", "lens_position")
        )
        values.put("around", **{f"around_{key}": vergence.refraction(cornea, length, position, power)})


def other_powers(values: Values) -> None:
    """What the lowest and highest candidate, and the peak, would do with the plan's own lens position."""
    eye = EyeValues(values)
    length, position, lens = eye.lead_optical_length, eye.lead_position, eye.lens_power
    needed = 1000 * CONSTANTS.index_aqueous / (length - position)
    ratio = eye.lead_cornea / eye.mean_k
    found: dict[str, Array] = {
        "lead_vergence_needed": needed,
        "lead_index_ratio": ratio,
    }
    for end in ("lowest", "highest"):
        cornea = ratio * values.get("eyes", f"range_{end}")
        at_cornea = vergence.refraction(cornea, length, position, lens, 0.0)
        found[f"refraction_with_{end}_k"] = _worn(at_cornea, vergence.refraction(cornea, length, position, lens))
    steep = ratio * eye.peak_power
    power = vergence.lens_power(steep, length, position, eye.goal_refraction)
    left = vergence.refraction(eye.lead_cornea, length, position, power, 0.0)
    values.put(
        "eyes",
        **found,
        peak_k_power=power,
        peak_k_refraction=_worn(left, vergence.refraction(eye.lead_cornea, length, position, power)),
    )


def _worn(at_cornea: Array, spectacles: Array) -> Array:
    """The spectacle refraction, where a spectacle lens could give it at all."""
    return np.where(1 + CONSTANTS.vertex_of_formulas * at_cornea / 1000 > 0, spectacles, np.nan)
