"""No lens reaches the goal: what it would take, and the two ways out.

An echo: comparisons, the first lens that reaches and the step to it as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import EyeValues, Values, there


def another_lens(values: Values) -> None:
    """The first lens of the table with a power for an eye that the chosen one does not reach.

    Its power is on the myopic side, from the exact power with the chosen lens's constants.
    """
    eye = EyeValues(values)
    first, last, step = (values.get("lenses", f"lens_power_{key}")[:, None] for key in ("from", "to", "step"))
    beyond = np.where(there(eye.power_in_range), 1 - eye.power_in_range, 0.0)
    exact = eye.exact_power[..., None]
    reaches = (
        (beyond == 1)[..., None]
        & (exact >= first - CONSTANTS.rounding_slack)
        & (exact <= last - step + CONSTANTS.rounding_slack)
    )
    found, at = reaches.any(axis=-1), reaches.argmax(axis=-1)

    def of_it(key: str) -> np.ndarray:
        return np.take_along_axis(values.get("lenses", key), at, axis=1)

    start, rise = (np.where(found, of_it(f"lens_power_{key}"), np.nan) for key in ("from", "step"))
    values.put(
        "eyes",
        out_of_reach=beyond,
        other_lens_name=np.where(found, of_it("lens_name"), ""),
        other_power=start + np.ceil((eye.exact_power - start) / rise - CONSTANTS.rounding_slack) * rise,
    )
