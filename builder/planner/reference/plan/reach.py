"""No lens reaches the goal: what it would take, and the two ways out."""

from __future__ import annotations

from functools import partial

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import EyeValues, Values, half_up, there


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
    known = there(exact) & there(first + last + step)
    flags = np.where(known, reaches.astype(float), np.nan)
    values.put("lenses", reaches_right=flags[:, 0], reaches_left=flags[:, 1])
    found, at = reaches.any(axis=-1), reaches.argmax(axis=-1)

    def of_it(key: str) -> np.ndarray:
        return np.take_along_axis(values.get("lenses", key), at, axis=1)

    start, rise = (np.where(found, of_it(f"lens_power_{key}"), np.nan) for key in ("from", "step"))
    values.put(
        "eyes",
        out_of_reach=beyond,
        other_lens_place=np.where(found, at + 1.0, np.nan),
        other_lens_name=np.where(found, of_it("lens_name"), ""),
        other_from=start,
        other_step=rise,
        other_power=start + np.ceil((eye.exact_power - start) / rise - CONSTANTS.rounding_slack) * rise,
    )


def ways_out(values: Values, words: Words) -> None:
    """The sentences, empty where a lens reaches."""
    eye, w = EyeValues(values), partial(words.get, "word")
    rows = {key: np.full(eye.out_of_reach.shape, "", dtype=object) for key in ("reach", "first_way", "second_way")}
    for found in np.argwhere(eye.out_of_reach == 1):
        at = tuple(found)
        rows["reach"][at] = w("reach_takes") + _signed(eye.exact_power[at], w("reach_minus")) + w("reach_end")
        if np.isnan(eye.other_power[at]):
            rows["first_way"][at] = w("way_lens_none")
        else:
            power = _signed(eye.other_power[at], w("reach_minus"))
            named = w("way_lens") + eye.other_lens_name[at] + w("way_lens_with")
            rows["first_way"][at] = named + power + w("way_lens_end")
        lens, left = float(eye.standard_power[at]), float(eye.standard_refraction[at])
        if np.isnan(lens) or np.isnan(left):
            rows["second_way"][at] = w("way_standard_none")
        else:
            power, short = half_up(round(abs(lens), 8), 2), half_up(round(abs(left), 8), 1)
            told = w("way_standard") + power + w("way_standard_then") + short
            rows["second_way"][at] = told + w("way_standard_end")
    values.put("eyes", **{f"{key}_said": row for key, row in rows.items()})


def _signed(number: float, minus: str) -> str:
    size = half_up(round(abs(float(number)), 8), 2)
    return minus + size if number < -CONSTANTS.rounding_slack else size
