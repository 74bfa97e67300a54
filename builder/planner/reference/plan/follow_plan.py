"""The plan as it was operated by: today's while its code is the one typed or checked then, else what was printed.

Another method: the printed refraction as a power matrix, where the cells move each meridian and turn it by cosine and
sine.
An echo: which plan counts, as the cells compute it.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.planner.reference import follow_up
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, flag, there
from builder.planner.reference.vectors import power_vector_of_matrix

PLAN, PRINTED, NONE, UNKNOWN = 1.0, 2.0, 3.0, 4.0


def as_operated(values: Values, live_mean: Array, live: NDArray[Any]) -> tuple[Array, NDArray[Any]]:
    """The prediction that errors are counted from, at the cornea: mean (D) and cylinder as a complex vector (D).

    live: what today's plan predicts for the implanted lens. NaN where the plan is another one than was operated by.
    """
    eye = EyeValues(values)
    then = np.where(there(eye.operated_code), eye.operated_code, eye.checked_code)
    changed = np.where(there(then), flag(~(np.abs(then - eye.plan_code) < 0.5)), np.nan)
    plain = there(eye.printed_axis) | (np.abs(eye.printed_cylinder) < CONSTANTS.axis_free)
    there_all = there(eye.printed_sphere) & there(eye.printed_cylinder) & plain
    place = np.select([changed == 0, there_all, changed == 1], [PLAN, PRINTED, NONE], UNKNOWN)
    angle = np.where(there_all, np.nan_to_num(eye.printed_axis), np.nan)
    page = follow_up.correction_at_cornea(eye.printed_sphere, eye.printed_cylinder, angle, CONSTANTS.vertex_of_formulas)
    printed = power_vector_of_matrix(np.where(there_all[..., None, None], page, np.nan))
    vector = 2 * (printed.j0 + 1j * printed.j45)
    mean = np.select([place == PRINTED, place == NONE], [printed.mean, np.nan], live_mean)
    expected = np.select([place == PRINTED, place == NONE], [vector, complex(np.nan, np.nan)], live)
    values.put(
        "eyes",
        plan_changed=changed,
        printed_there=flag(there_all),
        against_place=place,
        expected_mean=mean,
        expected_straight=expected.real / 2,
        expected_oblique=expected.imag / 2,
    )
    return mean, expected
