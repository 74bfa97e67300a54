"""Whether the centre of the cornea is fit for a toric lens: axes compared, stability, each point and the verdict."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from builder.reference import vectors
from builder.reference.constants import CONSTANTS
from builder.reference.plan.cells import Array, EyeValues, Values, WordArray, flag, highest, select, there
from builder.reference.plan.sources import SOURCES
from builder.spec.words import Words

SLACK = CONSTANTS.rounding_slack
SHOWN = 6  # decimals of a shown axis: axes are compared as they are shown


def _gap(axis: Array, other: Array, cylinder: Array, other_cylinder: Array) -> Array:
    """Angle between two axes, NaN where a cylinder is too small to have a trustworthy one."""
    large = np.minimum(cylinder, other_cylinder) >= CONSTANTS.axis_rows_from
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
    from_zone = eye.front_source == w("choice", "zone3")
    front_axis = np.where(from_zone, axis["zone3"], np.where(there(eye.front_source), axis["ring"], np.nan))
    front_size = np.where(from_zone, size["zone3"], np.where(there(eye.front_source), size["ring"], np.nan))
    totals_gap = [_gap(front_axis, axis[key], front_size, size[key]) for key in ("total3", "total4", "front_and_back")]
    corners = []
    for key in ("ring", "zone3", "zone4", "second"):
        flat, steep = (values.get("eyes", f"{key}_{end}_axis") for end in ("flat", "steep"))
        cylinder = values.get("eyes", f"{key}_steep_power") - values.get("eyes", f"{key}_flat_power")
        corners.append(np.where(cylinder >= CONSTANTS.axis_rows_from, 90 - vectors.axis_gap(steep, flat), np.nan))
    refraction = _gap(axis["refraction"], eye.cornea_axis, size["refraction"], eye.cornea_cylinder)
    small = flag(eye.cornea_cylinder < CONSTANTS.axis_rows_from)
    worst = highest(zones, totals, on_map), highest(*totals_gap)
    values.put(
        "eyes",
        gap_zones=zones,
        gap_totals=totals,
        gap_map=on_map,
        worst_gap_zones=worst[0],
        front_cylinder_axis=front_axis,
        front_cylinder_size=front_size,
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
        axes_compared=there(worst[0]).astype(float) + there(worst[1]) + there(refraction) + small,
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
        derived = np.where(there(change), flag(change > limit + SLACK), np.nan)
        return np.where(answer == yes, 1.0, np.where(answer == no, 0.0, derived))

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


Limits = tuple[Any, Any]


def verdict(values: Values, words: Words, order: Sequence[str]) -> None:
    """Each point of the table with its state, and the verdict."""
    eye = EyeValues(values)
    w = words.get
    yes = w("choice", "yes")
    ring = (values.get("rings", key)[..., 2] for key in ("ring_cylinder", "ring_ratio"))
    cylinder3, ratio3 = ring
    found: dict[str, Array] = {
        "axis_zones": eye.worst_gap_zones,
        "axis_total": eye.worst_gap_total,
        "right_angle": eye.worst_right_angle,
        "axis_refraction": eye.gap_refraction,
        "skew": eye.axis_skew,
        "asymmetry": np.where(cylinder3 >= CONSTANTS.asymmetry_from, ratio3, np.nan),
        "repeats": eye.cylinder_repeat_spread,
        "peak_change": eye.peak_change_a_year,
        "progression": eye.progression_signs,
        "stability": eye.months_stable,
        "since_segments": eye.months_since_ring_segments,
        "since_crosslinking": eye.months_since_crosslinking,
        "lens_holiday": eye.days_out_of_contact_lens,
    }
    c = CONSTANTS
    holiday = np.where(eye.contact_lens == w("choice", "rigid"), c.rigid_holiday, c.soft_holiday)
    limits: dict[str, Limits] = {
        "axis_zones": (c.axis_good, c.axis_borderline),
        "axis_total": (c.axis_good, c.axis_borderline),
        "right_angle": (c.right_angle_good, c.right_angle_borderline),
        "axis_refraction": (c.refraction_axis_good, c.refraction_axis_borderline),
        "skew": (c.skew_good, c.skew_borderline),
        "asymmetry": (c.asymmetry_good, c.asymmetry_borderline),
        "repeats": (c.repeats_good, c.repeats_borderline),
        "peak_change": (c.peak_change_good, c.peak_change_borderline),
        "progression": (0.0, 1.0),
        "stability": (c.stable_good, c.stable_borderline),
        "since_segments": (c.segments_good, c.segments_borderline),
        "since_crosslinking": (c.crosslinking_good, c.crosslinking_borderline),
        "lens_holiday": (holiday, holiday),
    }
    irregular = np.isin(
        eye.corneal_diagnosis, [w("choice", k) for k in ("keratoconus", "ectasia_after_laser", "pellucid")]
    )
    worn = np.isin(eye.contact_lens, [w("choice", "soft"), w("choice", "rigid")])
    always, never = np.ones(irregular.shape, bool), np.zeros(irregular.shape, bool)
    asked: dict[str, np.ndarray] = {
        "axis_zones": eye.axes_compared == 0,
        "stability": irregular,
        "acuity": always,
        "rigid_after": always,
        "since_segments": eye.ring_segments == yes,
        "since_crosslinking": eye.crosslinked == yes,
        "graft_state": eye.corneal_diagnosis == w("choice", "graft"),
        "lens_holiday": worn,
    }
    only_if_asked = ("since_segments", "since_crosslinking", "graft_state", "lens_holiday")
    answers = {
        "graft_state": _answers(eye.graft_sutures_out, good=yes, against=w("choice", "no")),
        "more_surgery": _answers(eye.more_surgery_expected, good=w("choice", "no"), against=yes),
        "acuity": _answers(
            eye.spectacle_acuity_before,
            good=w("choice", "useful"),
            borderline=w("choice", "doubtful"),
            against=w("choice", "needed_rigid_lens"),
        ),
        "rigid_after": _answers(eye.rigid_lens_afterwards, good=w("choice", "no"), against=yes),
    }
    columns: dict[str, list[np.ndarray]] = {
        key: [] for key in ("fit_value", "fit_good_limit", "fit_borderline_limit", "fit_state", "fit_reason")
    }
    for key in order:
        value = found.get(key, np.full(irregular.shape, np.nan))
        good, borderline = limits.get(key, (np.nan, np.nan))
        code = answers.get(
            key,
            _judged(
                value, good, borderline, key in ("stability", "since_segments", "since_crosslinking", "lens_holiday")
            ),
        )
        wanted = asked.get(key, never)
        if key in only_if_asked:
            code = np.where(wanted, code, "").astype(object)
        code = np.where(code == "", np.where(wanted, "missing", "not_asked"), code)
        state = np.array([w("word", f"fit_{name}") for name in code.ravel()], dtype=object).reshape(code.shape)
        name = words.label(f"fit_items_{key}")
        told = np.isin(code, ["against", "borderline", "missing"]) & (eye.eye_used == 1)
        reason = np.where(told, name + w("word", "colon") + state, "")
        for row, column in (
            ("fit_value", value),
            ("fit_good_limit", good),
            ("fit_borderline_limit", borderline),
            ("fit_state", state),
            ("fit_reason", reason),
        ):
            columns[row].append(np.broadcast_to(np.asarray(column), irregular.shape))
    values.put("fit_items", **{row: np.stack(found_columns, axis=-1) for row, found_columns in columns.items()})
    states = values.get("fit_items", "fit_state")
    counts = {
        name: (states == w("word", f"fit_{name}")).sum(axis=-1).astype(float)
        for name in ("against", "missing", "borderline")
    }
    said = select(
        [
            (eye.eye_used == 0, ""),
            (counts["against"] > 0, w("word", "verdict_not_supported")),
            (counts["missing"] > 0, w("word", "verdict_not_enough")),
            (counts["borderline"] > 0, w("word", "verdict_judgement")),
        ],
        w("word", "verdict_supported"),
    )
    values.put(
        "eyes",
        fit_against=counts["against"],
        fit_missing_count=counts["missing"],
        fit_borderline=counts["borderline"],
        toric_verdict=said,
    )


def _judged(value: Array, good: Any, borderline: Any, more_is_better: bool) -> WordArray:
    """good, borderline or against; a printed limit belongs to the milder band; "" where there is no value."""
    sign = -1.0 if more_is_better else 1.0
    return select(
        [
            (~there(value), ""),
            (sign * value <= sign * np.asarray(good) + SLACK, "good"),
            (sign * value <= sign * np.asarray(borderline) + SLACK, "borderline"),
        ],
        "against",
    )


def _answers(answer: WordArray, **meaning: str) -> WordArray:
    return select([(answer == word, code) for code, word in meaning.items()])
