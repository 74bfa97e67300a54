"""Axes of the sources and zones compared, and how stable the cornea is.

Another method: the distance of two sources as the absolute value of a complex number, where the cells take a root of
squares.
An echo: gaps of axes, greatest gaps and the signs of stability as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

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
    w = words.get
    order = list(SOURCES)
    axis = {key: values.get("sources", "source_axis")[..., order.index(key)] for key in order}
    size = {key: values.get("sources", "source_cylinder")[..., order.index(key)] for key in order}
    ring_axis, ring_size = values.get("rings", "ring_axis"), values.get("rings", "ring_cylinder")
    zones = _gap(axis["zone3"], axis["zone4"], size["zone3"], size["zone4"])
    totals = _gap(axis["total3"], axis["total4"], size["total3"], size["total4"])
    on_map = _gap(ring_axis[..., 2], ring_axis[..., 3], ring_size[..., 2], ring_size[..., 3])
    front_axis, front_size = (
        np.where(eye.zone3_paired == 1, row["zone3"], np.where(eye.ring_paired == 1, row["ring"], np.nan))
        for row in (axis, size)
    )
    totals_gap = [_gap(front_axis, axis[key], front_size, size[key]) for key in ("total3", "total4", "front_and_back")]
    corners = []
    for key in ("ring", "zone3", "zone4", "second"):
        flat, steep = (values.get("eyes", f"{key}_{end}_axis") for end in ("flat", "steep"))
        cylinder = values.get("eyes", f"{key}_steep_power") - values.get("eyes", f"{key}_flat_power")
        corners.append(
            np.where(
                cylinder >= CONSTANTS.axis_rows_from - CONSTANTS.rounding_slack,
                90 - vectors.axis_gap(steep, flat),
                np.nan,
            )
        )
    second = _gap(axis["ring"], axis["second"], size["ring"], size["second"])
    ring = eye.ring_steep_power - eye.ring_flat_power
    front = eye.front_steep_power - eye.front_flat_power
    refraction = _gap(axis["refraction"], eye.cornea_axis, size["refraction"], eye.cornea_cylinder)
    small = flag(eye.cornea_cylinder < CONSTANTS.axis_rows_from - CONSTANTS.rounding_slack)
    worst = highest(zones, totals, on_map), highest(*totals_gap)
    values.put(
        "eyes",
        gap_zones=zones,
        gap_totals=totals,
        gap_map=on_map,
        worst_gap_zones=worst[0],
        gap_front_total3=totals_gap[0],
        gap_front_total4=totals_gap[1],
        gap_front_back=totals_gap[2],
        worst_gap_total=worst[1],
        right_angle_ring=corners[0],
        right_angle_zone3=corners[1],
        right_angle_zone4=corners[2],
        right_angle_second=corners[3],
        worst_right_angle=highest(*corners),
        gap_refraction=refraction,
        small_cylinders=small,
        gap_second=second,
        second_cylinder_gap=np.abs(eye.second_steep_power - eye.second_flat_power - ring),
        skew_cylinder=np.where(there(front), front, eye.cornea_cylinder),
        axes_compared=there(worst[0]).astype(float) + there(worst[1]) + there(second) + small,
    )
    x, y = values.get("sources", "source_x"), values.get("sources", "source_y")
    names = select_names(order, w)
    vector = np.where(there(x), x + 1j * y, np.nan)
    for number, key in enumerate(order):
        apart = np.abs(vector - vector[..., number, None])
        values.put(
            "sources",
            **{f"apart_{key}": np.where(np.isnan(vector) | np.isnan(vector[..., number, None]), np.nan, apart)},
        )
    values.put("sources", apart_name=np.broadcast_to(names, x.shape))
    _stability(values, words)


def select_names(order: Sequence[str], w: Any) -> WordArray:
    """The words for the sources of the astigmatism."""
    return np.array(
        [w("word", key) if key in ("map_ring", "refraction") else w("choice", key) for key in order], dtype=object
    )


def _stability(values: Values, words: Words) -> None:
    eye = EyeValues(values)
    yes, no = words.get("choice", "yes"), words.get("choice", "no")
    slope = values.get("trends", "trend_slope")
    peak, zone, back, thin = (slope[..., n] for n in range(4))
    typed, by_visits = np.abs(eye.peak_power - eye.peak_k_12_months_ago), np.abs(peak)
    front = highest(peak, zone)

    def sign(answer: WordArray, change: Array, limit: float) -> Array:
        derived = np.where(there(change), flag(change > limit + CONSTANTS.rounding_slack), np.nan)
        return np.where(answer == yes, 1.0, np.where((answer == no) & ~there(change), 0.0, derived))

    signs = [
        sign(eye.front_steeper, front, CONSTANTS.front_steepening),
        sign(eye.back_steeper, -back, CONSTANTS.back_steepening),
        sign(eye.thinner_now, -thin, CONSTANTS.thinning),
    ]
    known = np.any([there(s) for s in signs], axis=0)
    values.put(
        "eyes",
        peak_change_typed=typed,
        peak_change_visits=by_visits,
        peak_change_a_year=highest(typed, by_visits),
        front_slope=front,
        front_sign=signs[0],
        back_sign=signs[1],
        thinner_sign=signs[2],
        progression_signs=np.where(known, np.nansum(signs, axis=0), np.nan),
    )
