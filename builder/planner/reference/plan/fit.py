"""Whether the centre of the cornea is fit for a toric lens: each point with its state, and the verdict.

Another method: _first_reasons sorts the reasons by weight, where the cells count them by COUNTIF.
An echo: values against limits, counts of states and the verdict as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import (
    Array,
    EyeValues,
    Values,
    WordArray,
    diagnosed,
    flag,
    half_up,
    select,
    there,
)

Limits = tuple[Any, Any]
REASONS = 4  # that the sheet of the decision shows


def verdict(values: Values, words: Words, order: Sequence[str]) -> None:
    """Each point of the table with its state, and the verdict."""
    eye = EyeValues(values)
    w = words.get
    yes = w("choice", "yes")
    rings = (values.get("rings", key)[..., 2] for key in ("ring_cylinder", "ring_ratio", "ring_asymmetry"))
    cylinder3, ratio3, size3 = rings
    counted = (eye.laser_cornea == 1) | (eye.joined_count > 1)
    found: dict[str, Array] = {
        "axis_zones": eye.worst_gap_zones,
        "axis_total": eye.worst_gap_total,
        "right_angle": eye.worst_right_angle,
        "axis_refraction": eye.gap_refraction,
        "skew": np.where(eye.skew_cylinder >= CONSTANTS.skew_from - CONSTANTS.rounding_slack, eye.axis_skew, np.nan),
        "asymmetry": np.where(cylinder3 >= CONSTANTS.asymmetry_from - CONSTANTS.rounding_slack, ratio3, np.nan),
        "asymmetry_size": size3,
        "repeats": eye.cylinder_repeat_spread,
        "peak_change": eye.peak_change_a_year,
        "progression": eye.progression_signs,
        "stability": eye.months_stable,
        "since_segments": eye.months_since_ring_segments,
        "since_crosslinking": eye.months_since_crosslinking,
        "lens_holiday": eye.days_out_of_contact_lens,
        "severity": eye.mean_k,
        "k_spread": np.where(counted, eye.range_spread, np.nan),
        "second_axis": eye.gap_second,
        "second_cylinder": eye.second_cylinder_gap,
        "day_change": eye.k_change_in_a_day,
        "axis_pairs": eye.worst_pair,
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
        "asymmetry_size": (c.asymmetry_size_good, np.nan),
        "repeats": (c.repeats_good, c.repeats_borderline),
        "peak_change": (c.peak_change_good, c.peak_change_borderline),
        "progression": (0.0, 1.0),
        "stability": (c.stable_good, c.stable_borderline),
        "since_segments": (c.segments_good, c.segments_borderline),
        "since_crosslinking": (c.crosslinking_good, c.crosslinking_borderline),
        "lens_holiday": (holiday, holiday),
        "severity": (c.goal_band_low, c.goal_band_high),
        "k_spread": (c.spread_to_measure_again, c.spread_to_confirm),
        "second_axis": (c.axis_good, c.axis_borderline),
        "second_cylinder": (c.repeats_good, c.repeats_borderline),
        "day_change": (c.day_change_good, c.day_change_borderline),
        "axis_pairs": (c.pair_axes_good, c.pair_axes_borderline),
    }
    cut = diagnosed(eye, words, "radial_cuts")
    irregular = diagnosed(eye, words, "keratoconus", "ectasia_after_laser", "pellucid")
    worn = np.isin(eye.contact_lens, [w("choice", "soft"), w("choice", "rigid")])
    always, never = np.ones(irregular.shape, bool), np.zeros(irregular.shape, bool)
    asked: dict[str, np.ndarray] = {
        "axis_zones": eye.axes_compared == 0,
        "stability": irregular | cut,
        "day_change": cut,
        "acuity": always,
        "rigid_after": always,
        "since_segments": eye.ring_segments == yes,
        "since_crosslinking": eye.crosslinked == yes,
        "graft_state": eye.corneal_diagnosis == w("choice", "graft"),
        "lens_holiday": worn,
    }
    questions = {  # an empty one counts as a no, and that is said
        "since_segments": eye.ring_segments,
        "since_crosslinking": eye.crosslinked,
        "lens_holiday": eye.contact_lens,
        "more_surgery": eye.more_surgery_expected,
        "scar": eye.central_scar,
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
        "scar": _answers(eye.central_scar, good=w("choice", "no"), against=yes),
        "tear_film": _answers(eye.tear_film_treated, good=yes, borderline=w("choice", "no")),
        "rigid_after": _answers(eye.rigid_lens_afterwards, good=w("choice", "no"), against=yes),
    }
    missed = missed_said(size3, words)
    values.put("eyes", missed_said=missed)
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
        if key == "asymmetry_size":  # however great, it is left to the surgeon
            code = np.where(code == "against", "borderline", code).astype(object)
        wanted = asked.get(key, never)
        if key in only_if_asked:
            code = np.where(wanted, code, "").astype(object)
        unanswered = ~there(questions[key]) if key in questions else never
        empty = "open" if key == "tear_film" else "not_asked"
        code = np.where(code == "", select([(wanted, "missing"), (unanswered, "not_answered")], empty), code)
        state = np.array([w("word", f"fit_{name}") for name in code.ravel()], dtype=object).reshape(code.shape)
        name = words.label(f"fit_items_{key}")
        told = np.isin(code, ["against", "borderline", "missing"]) & (eye.eye_used == 1)
        more = w("word", "comma") + missed if key == "asymmetry_size" else ""
        reason = np.where(told, name + w("word", "colon") + state + more, "")
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
    _first_reasons(values, words, order, states)
    counts = {
        name: (states == w("word", f"fit_{name}")).sum(axis=-1).astype(float)
        for name in ("against", "missing", "borderline")
    }
    blank = np.isin(states, [w("word", "fit_not_answered"), w("word", "fit_open")]).sum(axis=-1) * eye.eye_used
    named = np.array(
        [f"{w('word', 'toric_unanswered')}{n:.0f}" if n else w("word", "view_toric") for n in blank.flat], dtype=object
    )
    values.put("eyes", fit_unanswered=blank, toric_named=named.reshape(blank.shape))
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
        two_steps_asked=flag(
            (np.nan_to_num(eye.range_spread) > c.spread_to_confirm + CONSTANTS.rounding_slack)
            | (counts["missing"] > 0) & (np.nan_to_num(eye.mean_k) > c.goal_band_high + CONSTANTS.rounding_slack)
        ),
        toric_verdict=said,
    )


def _first_reasons(values: Values, words: Words, items: Sequence[str], states: WordArray) -> None:
    """The reasons ordered by weight, in the order of the table where it is the same, and the first four of them."""
    weights = [words.get("word", f"fit_{name}") for name in ("against", "missing", "borderline")]
    weight = np.select([states == word for word in weights], [0, 1, 2], len(weights))
    order = np.argsort(weight, axis=-1, kind="stable")
    place = np.where(weight < len(weights), np.argsort(order, axis=-1) + 1.0, np.nan)
    values.put("fit_items", fit_order=place)
    used = (values.get("eyes", "eye_used") == 1)[..., None]
    first = order[..., :REASONS]
    told = used & (np.take_along_axis(weight, first, axis=-1) < len(weights))
    values.put("fit_whys", why_line=np.where(told, first + 1.0, np.nan))


def missed_said(asymmetry: Array, words: Words) -> WordArray:
    """How much the lens may miss by, in dioptres, from the asymmetry (D) of the map's 3 mm ring; "" without one."""
    w, c = words.get, CONSTANTS
    small, large = half_up(c.missed_small, 2), half_up(c.missed_large, 2)
    end = w("word", "missed_end")
    return select(
        [
            (~there(asymmetry), ""),
            (asymmetry <= c.asymmetry_size_good + CONSTANTS.rounding_slack, f"{w('word', 'missed_about')}{small}{end}"),
            (
                asymmetry <= c.asymmetry_size_large + CONSTANTS.rounding_slack,
                f"{w('word', 'missed_between')}{small}{w('word', 'missed_and')}{large}{end}",
            ),
        ],
        f"{w('word', 'missed_about')}{large}{end}",
    )


def _judged(value: Array, good: Any, borderline: Any, more_is_better: bool) -> WordArray:
    """good, borderline or against; a printed limit belongs to the milder band; "" where there is no value."""
    sign = -1.0 if more_is_better else 1.0
    return select(
        [
            (~there(value), ""),
            (sign * value <= sign * np.asarray(good) + CONSTANTS.rounding_slack, "good"),
            (sign * value <= sign * np.asarray(borderline) + CONSTANTS.rounding_slack, "borderline"),
        ],
        "against",
    )


def _answers(answer: WordArray, **meaning: str) -> WordArray:
    return select([(answer == word, code) for code, word in meaning.items()])
