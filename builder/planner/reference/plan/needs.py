"""What a plan cannot do without, and what of it is lacking.

An echo: flags of what is there and what is wanted as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference.plan.cells import Array, EyeValues, Values, flag, there
from builder.planner.reference.plan.points import of_each


def needs(values: Values, words: Words, order: Sequence[str], steps: Mapping[str, str]) -> dict[str, Array]:
    """The table of what a plan cannot do without; returns what of it is lacking, by key."""
    eye = EyeValues(values)
    is_toric = flag(eye.chosen_kind == words.get("choice", "toric"))
    again, again_k = flag(there(eye.again_source)), flag(there(eye.again_k_source))
    one = np.ones(is_toric.shape)
    wanted = {
        "need_vector": is_toric,
        "need_incision": is_toric,
        "need_again_acd": flag(there(eye.chamber_depth)),
        "need_again_flat": again,
        "need_again_steep": again,
        "need_again_axis": again * is_toric,
        "need_again_radius": flag(there(eye.radius_reading)),
        "need_again_back_flat": eye.back_decides,
        "need_again_back_steep": eye.back_decides,
        "need_again_a_constant": np.nan_to_num(eye.lens_own),
        "need_again_incision": is_toric * there(eye.incision_meridian),
        "need_checked_code": flag(there(eye.plan_code)),
        "need_again_k_flat": again_k,
        "need_again_k_steep": again_k,
    }
    present = {
        "need_diagnosis": eye.corneal_diagnosis,
        "need_length": eye.axial_length,
        "need_cornea": eye.mean_k,
        "need_vector": eye.cornea_x,
        "need_goal": eye.goal_refraction,
        "need_lens": eye.lens_choice,
        "need_incision": eye.incision_meridian,
        "need_again_length": eye.again_axial_length,
        "need_again_acd": eye.again_acd,
        "need_again_flat": eye.again_flat,
        "need_again_steep": eye.again_steep,
        "need_again_axis": eye.again_steep_axis,
        "need_again_k_flat": eye.again_k_flat,
        "need_again_k_steep": eye.again_k_steep,
        "need_again_goal": eye.again_goal,
        "need_again_lens": eye.again_lens,
        "need_again_radius": eye.again_flat_radius,
        "need_again_back_flat": eye.again_back_flat_radius,
        "need_again_back_steep": eye.again_back_steep_radius,
        "need_again_a_constant": eye.again_a_constant,
        "need_again_incision": eye.again_incision_meridian,
        "need_checked_code": eye.checked_code,
    }
    want = np.stack([wanted.get(key, one) for key in order], axis=-1)
    have = np.stack([flag(there(of_each(present, key, "need"))) for key in order], axis=-1)
    met = want * have
    again = np.array([steps[key] == "step_four" for key in order])
    values.put(
        "needs", need_wanted=want, need_present=have, need_met=met, need_again_lacks=np.where(again, want - met, 0.0)
    )
    values.put("eyes", toric_wanted=is_toric)
    return {key: (want - met)[..., n] for n, key in enumerate(order)}
