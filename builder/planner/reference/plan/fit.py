"""Whether the centre of the cornea is fit for a toric lens: each point with its state, and the verdict.

Another method: _ordered sorts the reasons by weight, where the cells count them by COUNTIF.
An echo: values against limits, counts of states and the verdict as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

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

VERDICTS = {"against": "not_supported", "missing": "not_enough", "borderline": "judgement"}  # the worst first
REASONS = 4  # that the sheet of the decision shows
LIMITS = {  # of an item with a number: the constants <name>_good and <name>_borderline
    **dict.fromkeys(("axis_zones", "axis_total", "second_axis"), "axis"),
    **dict.fromkeys(("repeats", "second_cylinder"), "repeats"),
    **{key: key for key in ("right_angle", "skew", "asymmetry", "peak_change", "day_change")},
    **{"axis_refraction": "refraction_axis", "axis_pairs": "pair_axes", "stability": "stable"},
    **{"since_segments": "segments", "since_crosslinking": "crosslinking"},
}
MORE_IS_BETTER = ("stability", "since_segments", "since_crosslinking", "lens_holiday")
ANSWERS = {  # the answer of an item that has no number: what is good, what is borderline
    "graft_state": ("graft_sutures_out", "yes", ""),
    "more_surgery": ("more_surgery_expected", "no", ""),
    "acuity": ("spectacle_acuity_before", "useful", "doubtful"),
    "rigid_after": ("rigid_lens_afterwards", "no", ""),
    "scar": ("central_scar", "no", ""),
    "tear_film": ("tear_film_treated", "yes", "no"),
}


def verdict(values: Values, words: Words, order: Sequence[str]) -> None:
    """Each point of the table with its state, and the verdict."""
    eye, slack, w = EyeValues(values), CONSTANTS.rounding_slack, words.get
    shape = eye.mean_k.shape

    def table(rows: Mapping[str, Any], other: Any) -> NDArray[Any]:
        return np.stack([np.broadcast_to(np.asarray(rows.get(key, other)), shape) for key in order], axis=-1)

    limits = _limits(eye, words)
    value = table(_values(values), np.nan)
    good, borderline = (table({key: pair[n] for key, pair in limits.items()}, np.nan) for n in (0, 1))
    way = np.where(np.isin(order, MORE_IS_BETTER), -1.0, 1.0)
    is_good, is_borderline = (way * value <= way * limit + slack for limit in (good, borderline))
    answered = there(value)
    for key, (cell, best, middling) in ANSWERS.items():
        at, answer = order.index(key), values.get("eyes", cell)
        is_good[..., at], answered[..., at] = answer == w("choice", best), there(answer)
        is_borderline[..., at] = (answer == w("choice", middling)) if middling else False
    yes, worn = w("choice", "yes"), np.isin(eye.contact_lens, [w("choice", "soft"), w("choice", "rigid")])
    segments, linked = eye.ring_segments == yes, eye.crosslinked == yes
    counts = {"since_segments": segments, "since_crosslinking": linked, "lens_holiday": worn}
    counts["graft_state"] = diagnosed(eye, words, "graft")
    wanted = dict.fromkeys((*counts, "acuity", "rigid_after"), True) | {
        "axis_zones": eye.axes_compared == 0,
        "stability": diagnosed(eye, words, "keratoconus", "ectasia_after_laser", "pellucid", "radial_cuts"),
        "day_change": diagnosed(eye, words, "radial_cuts"),
    }
    questions = {
        "since_segments": eye.ring_segments,
        "since_crosslinking": eye.crosslinked,
        "lens_holiday": eye.contact_lens,
    }
    taken_as_no = {key: ~there(answer) for key, answer in questions.items()} | {"more_surgery": True, "scar": True}
    aside, missing = ~table(counts, True), table(wanted, False)
    without = select([(table(taken_as_no, False), w("word", "fit_not_answered"))], w("word", "fit_not_asked"))
    without[..., order.index("tear_film")] = w("word", "fit_open")
    cases = {"good": is_good, "borderline": is_borderline, "against": answered, "missing": missing}
    state = select([(aside, without), *((holds, w("word", f"fit_{key}")) for key, holds in cases.items())], without)
    found = {key: state == w("word", f"fit_{key}") for key in ("against", "missing", "borderline")}
    count = {key: holds.sum(axis=-1).astype(float) for key, holds in found.items()}
    spread, k = np.nan_to_num(eye.range_spread), np.nan_to_num(eye.mean_k)
    place = _ordered(found)
    told = there(place) & (eye.eye_used == 1)[..., None]
    more = np.full(len(order), "", dtype=object)
    more[order.index("asymmetry_size")] = w("word", "comma")
    names = np.array([words.label(f"fit_items_{key}") + w("word", "colon") for key in order], dtype=object)
    missed = _missed_said(values, words)
    values.put(
        "fit_items",
        fit_value=value,
        fit_without=without,
        fit_state=state,
        fit_order=place,
        fit_reason=np.where(told, names + state + np.where(more == "", "", more + missed[..., None]), ""),
    )
    first = np.argsort(np.where(there(place), place, np.inf), axis=-1)[..., :REASONS]
    values.put("fit_whys", why_line=np.where(np.take_along_axis(told, first, axis=-1), first + 1.0, np.nan))
    said = [(count[key] > 0, w("word", f"verdict_{name}")) for key, name in VERDICTS.items()]
    values.put(
        "eyes",
        fit_unanswered=np.isin(state, [w("word", "fit_not_answered"), w("word", "fit_open")]).sum(axis=-1)
        * eye.eye_used,
        two_steps_asked=flag(
            (spread > CONSTANTS.spread_to_confirm + slack)
            | (count["missing"] > 0) & (k > CONSTANTS.goal_band_high + slack)
        ),
        toric_verdict=select([(eye.eye_used == 0, ""), *said], w("word", "verdict_supported")),
    )


def _values(values: Values) -> dict[str, Array]:
    """What each item looks at; NaN where it is not there, or too small to say anything."""
    eye, slack = EyeValues(values), CONSTANTS.rounding_slack
    cylinder, ratio, size = (values.get("rings", f"ring_{key}")[..., 2] for key in ("cylinder", "ratio", "asymmetry"))
    return {
        "axis_zones": eye.worst_gap_zones,
        "axis_total": eye.worst_gap_total,
        "right_angle": eye.worst_right_angle,
        "axis_refraction": eye.gap_refraction,
        "skew": np.where(eye.skew_cylinder >= CONSTANTS.skew_from - slack, eye.axis_skew, np.nan),
        "asymmetry": np.where(cylinder >= CONSTANTS.asymmetry_from - slack, ratio, np.nan),
        "asymmetry_size": size,
        "repeats": eye.cylinder_repeat_spread,
        "peak_change": eye.peak_change_a_year,
        "progression": eye.progression_signs,
        "stability": eye.months_stable,
        "since_segments": eye.months_since_ring_segments,
        "since_crosslinking": eye.months_since_crosslinking,
        "lens_holiday": eye.days_out_of_contact_lens,
        "severity": eye.mean_k,
        "k_spread": np.where((eye.laser_cornea == 1) | (eye.joined_count > 1), eye.range_spread, np.nan),
        "second_axis": eye.gap_second,
        "second_cylinder": eye.second_cylinder_gap,
        "day_change": eye.k_change_in_a_day,
        "axis_pairs": eye.worst_pair,
    }


def _limits(eye: EyeValues, words: Words) -> dict[str, tuple[Any, Any]]:
    """Of each item with a number the limits of good and of borderline; however great, some stay borderline."""
    c = CONSTANTS
    holiday = np.where(eye.contact_lens == words.get("choice", "rigid"), c.rigid_holiday, c.soft_holiday)
    named = {
        item: tuple(getattr(c, f"{name}_{band}") for band in ("good", "borderline")) for item, name in LIMITS.items()
    }
    return named | {
        "asymmetry_size": (c.asymmetry_size_good, np.inf),
        "progression": (0.0, 1.0),
        "lens_holiday": (holiday, holiday),
        "severity": (c.goal_band_low, c.goal_band_high),
        "k_spread": (c.spread_to_measure_again, c.spread_to_confirm),
    }


def _ordered(found: Mapping[str, NDArray[np.bool_]]) -> Array:
    """The places of the items by weight, in the order of the table where it is the same; NaN of all others."""
    weight = np.select(list(found.values()), range(len(found)), len(found))
    order = np.argsort(weight, axis=-1, kind="stable")
    return np.where(weight < len(found), np.argsort(order, axis=-1) + 1.0, np.nan)


def _missed_said(values: Values, words: Words) -> WordArray:
    """How much the lens may miss by, in dioptres, from the asymmetry (D) of the map's 3 mm ring; "" without one."""
    w, c, asymmetry = words.get, CONSTANTS, values.get("rings", "ring_asymmetry")[..., 2]
    small, large = half_up(c.missed_small, 2), half_up(c.missed_large, 2)
    more, most = (asymmetry > limit + c.rounding_slack for limit in (c.asymmetry_size_good, c.asymmetry_size_large))
    between = w("word", "missed_between") + small + w("word", "missed_and") + large
    about = w("word", "missed_about")
    said = select([(most, about + large), (more, between)], about + small) + w("word", "missed_end")
    said = np.where(there(asymmetry), said, "")
    values.put("eyes", missed_said=said)
    return said
