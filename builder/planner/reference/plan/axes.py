"""Axes of the sources and zones compared, and how stable the cornea is.

Another method: the distance of two sources as the absolute value of a complex number, where the cells take a root of
squares.
An echo: gaps of axes, greatest gaps and the signs of stability as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import vectors
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, WordArray, flag, highest, there
from builder.planner.reference.plan.sources import SOURCES

SHOWN = 6  # decimals of a shown axis: axes are compared as they are shown


def _gap(axis: Array, other: Array, cylinder: Array, other_cylinder: Array) -> Array:
    """Angle between two axes, NaN where a cylinder is too small to have a trustworthy one."""
    large = np.minimum(cylinder, other_cylinder) >= CONSTANTS.axis_rows_from - CONSTANTS.rounding_slack
    shown = np.round(vectors.axis_gap(np.round(axis, SHOWN), np.round(other, SHOWN)), SHOWN)
    return np.where(large, shown, np.nan)


def axes(values: Values, words: Words) -> None:
    """Axes compared, and how stable the cornea is."""
    eye = EyeValues(values)
    order = list(SOURCES)
    axis = {key: values.get("sources", "source_axis")[..., order.index(key)] for key in order}
    size = {key: values.get("sources", "source_cylinder")[..., order.index(key)] for key in order}
    ring_axis, ring_size = values.get("rings", "ring_axis"), values.get("rings", "ring_cylinder")

    def gap(one: str, other: str) -> Array:
        return _gap(axis[one], axis[other], size[one], size[other])

    on_map = _gap(ring_axis[..., 2], ring_axis[..., 3], ring_size[..., 2], ring_size[..., 3])
    for row in (axis, size):
        row["front"] = np.where(
            eye.zone3_paired == 1, row["zone3"], np.where(eye.ring_paired == 1, row["ring"], np.nan)
        )
    corners = []
    for key in ("ring", "zone3", "zone4", "second"):
        flat, steep = (values.get("eyes", f"{key}_{end}_axis") for end in ("flat", "steep"))
        cylinder = values.get("eyes", f"{key}_steep_power") - values.get("eyes", f"{key}_flat_power")
        large = cylinder >= CONSTANTS.axis_rows_from - CONSTANTS.rounding_slack
        corners.append(np.where(large, 90 - vectors.axis_gap(steep, flat), np.nan))
    total = highest(*(gap("front", key) for key in ("total3", "total4", "front_and_back")))
    zones, second = highest(gap("zone3", "zone4"), gap("total3", "total4"), on_map), gap("ring", "second")
    ring = eye.ring_steep_power - eye.ring_flat_power
    front = eye.front_steep_power - eye.front_flat_power
    small = flag(eye.cornea_cylinder < CONSTANTS.axis_rows_from - CONSTANTS.rounding_slack)
    values.put(
        "eyes",
        gap_map=on_map,
        worst_gap_zones=zones,
        worst_gap_total=total,
        worst_right_angle=highest(*corners),
        gap_refraction=_gap(axis["refraction"], eye.cornea_axis, size["refraction"], eye.cornea_cylinder),
        gap_second=second,
        second_cylinder_gap=np.abs(eye.second_steep_power - eye.second_flat_power - ring),
        skew_cylinder=np.where(there(front), front, eye.cornea_cylinder),
        axes_compared=there(zones).astype(float) + there(total) + there(second) + small,
    )
    x, y = values.get("sources", "source_x"), values.get("sources", "source_y")
    vector = np.where(there(x), x + 1j * y, np.nan)
    for number, key in enumerate(order):
        apart = np.abs(vector - vector[..., number, None])
        values.put(
            "sources",
            **{f"apart_{key}": np.where(np.isnan(vector) | np.isnan(vector[..., number, None]), np.nan, apart)},
        )
    _stability(values, words)


def _stability(values: Values, words: Words) -> None:
    eye = EyeValues(values)
    yes, no = words.get("choice", "yes"), words.get("choice", "no")
    slope = values.get("trends", "trend_slope")
    peak, zone, back, thin = (slope[..., n] for n in range(4))

    def sign(answer: WordArray, change: Array, limit: float) -> Array:
        derived = np.where(there(change), flag(change > limit + CONSTANTS.rounding_slack), np.nan)
        return np.where(answer == yes, 1.0, np.where((answer == no) & ~there(change), 0.0, derived))

    signs = [
        sign(eye.front_steeper, highest(peak, zone), CONSTANTS.front_steepening),
        sign(eye.back_steeper, -back, CONSTANTS.back_steepening),
        sign(eye.thinner_now, -thin, CONSTANTS.thinning),
    ]
    known = np.any([there(s) for s in signs], axis=0)
    values.put(
        "eyes",
        peak_change_a_year=highest(np.abs(eye.peak_power - eye.peak_k_12_months_ago), np.abs(peak)),
        progression_signs=np.where(known, np.nansum(signs, axis=0), np.nan),
    )
