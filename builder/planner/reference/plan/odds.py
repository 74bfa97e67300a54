"""Sheet of the odds: what-if, error budget, chances, the lessons of peak, turning and doubtful vectors.

Another method: ray-transfer matrices and the error function (vergence, odds), where the cells have closed forms and
NORMSDIST; _turned and _vectors by complex numbers, where they have the law of cosines and roots of squares.
An echo: slopes, the sum of variances, the bands of doubt and the safe sides as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import odds, vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, at_number, by_rule, diagnosed, flag, there
from builder.planner.reference.plan.power import in_focus
from builder.planner.reference.plan.sources import SOURCES

VARIED = ("length", "cornea", "position", "power")
METHODS = ("optical", "immersion", "contact")
NOT_MEASURED = ("refraction", "regression")


def what_if(values: Values, words: Words) -> None:
    """The vergence with each quantity a little up and down, its slopes, and the error budget."""
    eye = EyeValues(values)
    planned = {
        "length": eye.lead_optical_length,
        "cornea": eye.lead_cornea,
        "position": eye.lead_position,
        "power": eye.lens_power,
    }
    unit = {"length": 1.0, "cornea": eye.lead_index_ratio, "position": 1.0, "power": 1.0}
    step = {key: getattr(CONSTANTS, f"step_{key}") for key in VARIED}
    varied = [dict(planned)]
    for key in VARIED:
        for sign in (1, -1):
            varied.append({**planned, key: planned[key] + sign * step[key] * unit[key]})
    for case, key in ((1, "longer_length"), (2, "shorter_length")):  # through the length rule
        taken = values.get("eyes", key) - eye.lead_length
        varied[case]["length"] = eye.lead_optical_length + eye.length_share * taken
    table = {key: np.stack([case[key] for case in varied], axis=-1) for key in VARIED}
    args = (table["cornea"], table["length"], table["position"], table["power"])
    refraction = in_focus(*args)
    values.put("variations", refraction_predicted=refraction)
    slopes = [
        (refraction[..., 1 + 2 * n] - refraction[..., 2 + 2 * n]) / (2 * step[key]) for n, key in enumerate(VARIED)
    ]
    slopes += [np.ones(slopes[0].shape)] * 3
    sds = [*_uncertainty(values, words), *_beside_the_vergence(values, words)]
    errors = np.stack([np.abs(slope) * sd for slope, sd in zip(slopes, sds, strict=True)], axis=-1)
    sd = np.linalg.norm(np.nan_to_num(errors), axis=-1)
    sd = np.where(there(errors[..., :4]).all(axis=-1), sd, np.nan)
    values.put(
        "parts",
        part_slope=np.stack(slopes, axis=-1),
        part_sd=np.stack(sds, axis=-1),
        part_error=errors,
        part_variance=errors**2,
        part_share=(errors / sd[..., None]) ** 2,
    )
    values.put(
        "eyes",
        error_sd=sd,
        chance_hyperopic=odds.chance_above(CONSTANTS.hyperopic_from, eye.predicted_mean, sd),
        chance_myopic=1 - odds.chance_above(eye.goal_refraction - CONSTANTS.myopic_beyond, eye.predicted_mean, sd),
        chance_within_050=odds.chance_within(CONSTANTS.within_half, sd),
        chance_within_100=odds.chance_within(CONSTANTS.within_one, sd),
        safe_goal=CONSTANTS.hyperopic_from - CONSTANTS.one_in_ten * sd,
    )


def _uncertainty(values: Values, words: Words) -> list[Array]:
    """sd of length, K, position and labelled power."""
    eye = EyeValues(values)
    w = words.get
    method = eye.axial_length_method
    sd_length = by_rule(method, {w("choice", key): getattr(CONSTANTS, f"sd_length_{key}") for key in METHODS})
    doubts = [CONSTANTS.sd_cornea_mild, CONSTANTS.sd_cornea_moderate, CONSTANTS.sd_cornea_steep]
    band = np.interp(eye.mean_k, _knots(), doubts)
    values.put(
        "eyes",
    )
    band = np.where(diagnosed(eye, words, "regular"), CONSTANTS.sd_cornea_least, band)
    band = np.where(there(eye.mean_k), band, np.nan)
    cornea = np.maximum(np.maximum(band, np.nan_to_num(eye.range_spread) / 2), CONSTANTS.sd_cornea_least)
    cornea = np.where(diagnosed(eye, words, "radial_cuts"), np.maximum(cornea, CONSTANTS.sd_cornea_cuts), cornea)
    values.put("eyes", sd_cornea_by_band=band, sd_cornea=cornea)
    return [sd_length, cornea, *(np.full(band.shape, sd) for sd in (CONSTANTS.sd_position, CONSTANTS.sd_power))]


def _beside_the_vergence(values: Values, words: Words) -> list[Array]:
    """sd of the refraction itself, half of what the length rule changes, and what pupil and meaning of focus move."""
    eye = EyeValues(values)
    cone = diagnosed(eye, words, "keratoconus", "ectasia_after_laser", "pellucid")
    own = np.where(cone, CONSTANTS.sd_refraction_cone, CONSTANTS.sd_refraction)
    shift = eye.predicted_mean - values.get("measured", "refraction_predicted")[..., 0]
    doubt = np.where(there(eye.predicted_mean), np.abs(np.nan_to_num(shift)) / 2, np.nan)
    moved = [CONSTANTS.sd_focus_mild, CONSTANTS.sd_focus_moderate, CONSTANTS.sd_focus_steep]
    by_band = np.interp(eye.mean_k, _knots(), moved)
    focus = np.where(diagnosed(eye, words, "regular") & there(by_band), 0.0, by_band)
    values.put("eyes", focus_by_band=by_band, sd_focus=focus)
    values.put("eyes", length_shift=shift, length_doubt=doubt)
    return [own, doubt, focus]


def _knots() -> list[float]:
    """Mean K between which the doubts of a warped cornea rise in straight lines (D)."""
    return [CONSTANTS.doubt_mild_k, CONSTANTS.doubt_moderate_k, CONSTANTS.doubt_steep_k]


def safe_sides(values: Values) -> None:
    """What the plan has taken toward myopia, in dioptres of refraction, minus."""
    eye = EyeValues(values)
    weakest = np.fmin.reduce(values.get("formulas", "refraction_predicted"), axis=-1)
    parts = [
        eye.goal_refraction,
        eye.predicted_mean - eye.goal_refraction,
        eye.refraction_with_highest_k - eye.predicted_mean,
        weakest - eye.predicted_mean,
    ]
    together = parts[0] + parts[1] + np.nan_to_num(parts[2]) + parts[3]
    names = ("goal", "step", "k", "formula", "sum")
    values.put("eyes", **{f"safe_side_{name}": row for name, row in zip(names, [*parts, together], strict=True)})


def lessons(values: Values) -> None:
    """What each candidate would choose, the standard K, the turned lens, and the doubt about the vector."""
    eye = EyeValues(values)
    length, position = eye.lead_optical_length, eye.lead_position
    light = 1000 * CONSTANTS.index_aqueous
    cornea = eye.lead_index_ratio[..., None] * values.get("candidates", "candidate_power")
    reach = light / (cornea + eye.goal_at_cornea[..., None]) - position[..., None]
    chosen = vergence.lens_power(cornea, length[..., None], position[..., None], eye.goal_refraction[..., None])
    values.put("candidates", candidate_reach=reach, candidate_lens_power=chosen)
    beyond = (eye.out_of_reach == 1) & (eye.mean_k > CONSTANTS.goal_band_low + CONSTANTS.rounding_slack)
    asked = (eye.mean_k > CONSTANTS.goal_band_high + CONSTANTS.rounding_slack) | beyond
    standard = np.where(asked, eye.lead_index_ratio * CONSTANTS.standard_k, np.nan)
    power = vergence.lens_power(standard, length, position, eye.goal_refraction)
    values.put(
        "eyes",
        standard_plan_asked=np.where(there(eye.mean_k), asked.astype(float), np.nan),
        standard_power=power,
        standard_refraction=in_focus(eye.lead_cornea, length, position, power),
    )
    _turned(values)
    _vectors(values)


def _turned(values: Values) -> None:
    eye = EyeValues(values)
    has = (eye.lens_cylinder > 0) & (eye.total_cylinder >= CONSTANTS.axis_free)
    ratio = np.where(has, eye.lens_cylinder_at_cornea / eye.total_cylinder, np.nan)
    gone = np.where(ratio < 2, np.degrees(np.arccos(np.minimum(ratio / 2, 1))) / 2, np.where(there(ratio), 0.0, np.nan))
    planned = np.linalg.norm([CONSTANTS.sd_reference_mark, CONSTANTS.sd_axis_mark, CONSTANTS.sd_alignment])
    long = eye.axial_length >= CONSTANTS.turns_from - CONSTANTS.rounding_slack
    axis_error = np.where(long, CONSTANTS.turn_of_long_eyes, planned)
    turned = eye.lens_cylinder_at_cornea * np.exp(2j * np.radians(axis_error))
    values.put(
        "eyes",
        cylinder_ratio=ratio,
        benefit_gone=gone,
        turned_by_ten=-values.get("rotations", "trace_cylinder_left")[..., 2],
        axis_error=axis_error,
        long_eye_turns=flag(long),
        cylinder_from_axis_error=np.where(there(ratio), np.abs(turned - eye.total_cylinder), np.nan),
    )


def _vectors(values: Values) -> None:
    eye = EyeValues(values)
    measured = np.array([key not in NOT_MEASURED for key in SOURCES])
    x, y, off = (
        np.where(measured, values.get("sources", key), np.nan) for key in ("source_x", "source_y", "source_distance")
    )
    values.put("sources", corneal_x=x, corneal_y=y, corneal_distance=off)
    known = there(eye.cornea_x)
    counted = np.where(known, there(x).sum(axis=-1), np.nan)
    some = counted > 0
    center = np.where(some, np.nansum(x + 1j * y, axis=-1) / counted, np.nan)
    used = eye.cornea_x + 1j * eye.cornea_y
    farthest = np.where(some, np.nan_to_num(np.fmax.reduce(off, axis=-1)), np.nan)
    straight, oblique = (
        at_number(values.get("options", key), eye.option_chosen) for key in ("trace_straight", "trace_oblique")
    )
    left = straight + 1j * oblique
    values.put(
        "eyes",
        centroid_off=np.abs(center - used),
        farthest_off=farthest,
        cylinder_if_centroid=2 * np.abs(left - (center - used) / 2),
        cylinder_if_farthest=2 * np.abs(left) + farthest,
    )
