"""The lens later, from the refraction without one, when no corneal power can be trusted.

Another method: vergence matrices to the cornea and to the lens, and the distance of the focus on the way back, where
the cells have vergence equations in closed form.
An echo: the step to a lens as the cells compute it.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import follow_up
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import EyeValues, Values, there
from builder.planner.reference.toric import step_count
from builder.planner.reference.vectors import spectacle_to_cornea


def two_steps(values: Values, words: Words) -> None:
    """Power of the lens from the refraction without one (holladay1993), stepped, and what a lower K would change."""
    eye, w = EyeValues(values), words.get
    second = eye.aphakic_sphere + eye.aphakic_cylinder
    worn = [spectacle_to_cornea(power, 0.0, 0.0, eye.aphakic_vertex).sphere for power in (eye.aphakic_sphere, second)]
    mean = (worn[0] + worn[1]) / 2
    lower = np.array([0.0, CONSTANTS.two_step_k_lower])
    net = eye.net_cornea[..., None] - lower
    now, wanted = net + mean[..., None], net + eye.goal_at_cornea[..., None]
    position = np.repeat(eye.lead_position[..., None], 2, axis=-1)
    arrived = [follow_up.arriving(row[..., None, None] * np.eye(2), position)[..., 0, 0] for row in (now, wanted)]
    power = arrived[0] - arrived[1]
    values.put("two_steps", lens_added=power)
    nearest = eye.step_rule == w("choice", "nearest")
    count = step_count(power[..., 0], eye.chosen_power_from, eye.chosen_power_step, nearest)
    inside = (count >= 0) & (count <= eye.steps_to_last + CONSTANTS.rounding_slack) & there(eye.step_rule)
    lens = np.where(inside, eye.chosen_power_from + count * eye.chosen_power_step, np.nan)
    left = arrived[0][..., 0] - lens
    focus = 1000 * CONSTANTS.index_aqueous / left + eye.lead_position  # mm behind the cornea
    at_cornea = np.where(left > 0, 1000 * CONSTANTS.index_aqueous / focus - eye.net_cornea, np.nan)
    scale = 1 + CONSTANTS.vertex_of_formulas * at_cornea / 1000
    values.put(
        "eyes",
        two_step_power=power[..., 0],
        two_step_lens_power=lens,
        two_step_refraction=np.where(scale > 0, at_cornea / scale, np.nan),
        two_step_doubt=power[..., 1] - power[..., 0],
    )
