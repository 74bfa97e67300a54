"""Slips: what lies within its limits and is yet unlikely beside the rest, with the figure behind each.

Another method: natural_lens follows a ray through the eye, where the cells take the difference of two vergences.
An echo: differences, limits and counts as the cells compute them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import (
    Array,
    EyeValues,
    Values,
    diagnosed,
    flag,
    highest,
    lowest,
    there,
)
from builder.planner.reference.plan.second import is_own
from builder.planner.reference.plan.sources import SOURCES
from builder.planner.reference.vectors import axis_gap

CONES = ("keratoconus", "ectasia_after_laser", "pellucid")
TOTALS = ("total3", "total4")
DERIVED = ("front_and_back", "regression")  # made of other sources, so no pair of their own
STEPS = (0.25, 0.5, 1.0)  # of lens powers, D
NASAL = (0.0, 180.0)  # of a right and of a left eye, degrees
SHOWN = 6  # decimals of a shown axis: axes are compared as they are shown


def natural_lens(length: Array, net_k: Array, depth: Array, at_cornea: Array) -> Array:
    """The power of the eye's own lens (D).

    A paraxial ray at height 1, followed through cornea and lens to the middle of the retina: lengths and depth in mm,
    net corneal power and the refraction at the cornea in D. NaN where the focus lies in front of the lens or in it.
    """
    index = 1000 * CONSTANTS.index_aqueous
    angle = -(net_k + at_cornea)  # reduced, behind the cornea
    height = 1 + angle * depth / index
    focus = -index * height / angle
    wanted = -index * height / (length - depth)
    return np.where(focus > 1 + CONSTANTS.rounding_slack, (angle - wanted) / height, np.nan)


def figures(values: Values, words: Words) -> None:
    """The figures behind the slips, eye by eye and beside the other eye."""
    eye, w, c = EyeValues(values), words.get, CONSTANTS
    cone = diagnosed(eye, words, *CONES)
    now = eye.refraction_sphere + eye.refraction_cylinder / 2
    worn = np.where(there(eye.spectacle_refraction_old), eye.spectacle_refraction_old, now)
    at_cornea = 1000 / (1000 / worn - eye.refraction_vertex)
    at_cornea = np.where(worn == 0, 0.0, at_cornea)
    place = eye.chamber_depth + c.natural_lens_behind
    net = eye.mean_k * c.holladay_index_numerator / (1000 * (c.keratometric_index - 1))
    power = natural_lens(eye.axial_length, net, place, at_cornea)
    known = there(eye.corneal_diagnosis)
    front = eye.front_flat_power + eye.front_steep_power
    ratio = eye.back_mean_radius / (1000 * (c.keratometric_index - 1) / eye.front_mean_k)
    flatter = eye.plain_k - eye.before_laser_k
    totals = [(front - values.get("eyes", f"{key}_flat") - values.get("eyes", f"{key}_steep")) / 2 for key in TOTALS]
    peaks = [_peak_over(values, key) for key in ("ring", "zone3")]
    regular, laser = diagnosed(eye, words, "regular"), diagnosed(eye, words, "after_myopic_laser")
    toric = eye.chosen_kind == w("choice", "toric")
    floor, ceiling = (
        (c.natural_lens_weak, c.natural_lens_weak_cone),
        (c.natural_lens_strong, c.natural_lens_strong_cone),
    )
    least, most = (np.where(known, np.where(cone, pair[1], pair[0]), np.nan) for pair in (floor, ceiling))
    values.put(
        "eyes",
        natural_power=power,
        natural_beyond=beyond(power, least, most),
        natural_apart=_apart(power),
        natural_between=np.where(
            known & there(_apart(power)),
            np.where(cone | (_apart(power) > c.natural_apart_confirm + CONSTANTS.rounding_slack), 0.0, _apart(power)),
            np.nan,
        ),
        lengths_apart=_apart(eye.axial_length),
        corneas_apart=_apart(eye.mean_k),
        worn_apart=_apart(at_cornea),
        lengths_alike=np.where(_apart(at_cornea) < c.worn_alike - CONSTANTS.rounding_slack, 1.0, 0.0)
        * np.where(there(_apart(at_cornea)), _apart(eye.axial_length), np.nan),
        ring_apart=_apart(eye.ring_flat) + _apart(eye.ring_steep),
        ring_over_zone=np.abs(eye.ring_flat_power + eye.ring_steep_power - eye.zone3_flat_power - eye.zone3_steep_power)
        / 2,
        second_over_front=np.abs(eye.second_flat_power + eye.second_steep_power - front) / 2,
        front_over_total3=totals[0],
        front_over_total4=totals[1],
        total_beyond=highest(*(beyond(total, c.total_least, c.total_most_below) for total in totals)),
        peak_nearest=lowest(*peaks),
        chamber_beyond=beyond(eye.chamber_depth, c.shallow_chamber, c.deep_chamber),
        depth_beyond=beyond(
            eye.chamber_depth + eye.lens_thickness, c.shortest_depth_and_lens, c.longest_depth_and_lens
        ),
        before_laser_beyond=beyond(eye.before_laser_k, c.before_laser_flattest, c.before_laser_steepest),
        flatter_before=_known(known, there(flatter), np.where(laser, flatter, 0.0)),
        ratio_beyond=_known(
            known, there(ratio), np.where(regular, beyond(ratio, c.back_front_lowest, c.back_front_highest), 0.0)
        ),
        formulas_limit=np.where(regular, c.formula_spread_warning, c.formula_spread_irregular),
        spread_limit=np.where(
            diagnosed(eye, words, "after_myopic_laser", "after_hyperopic_laser", "ectasia_after_laser"),
            c.spread_after_laser,
            c.spread_to_measure_again,
        ),
        residual_here=_known(
            known,
            there(eye.predicted_cylinder),
            np.where(diagnosed(eye, words, "graft") & ~toric, 0.0, -eye.predicted_cylinder),
        ),
        hyperopia_here=_known(known, there(eye.chance_hyperopic), np.where(regular, 0.0, eye.chance_hyperopic)),
        effect_here=_known(
            there(eye.incision_width),
            there(eye.incision_sia),
            np.where(eye.incision_width <= c.small_incision_width + CONSTANTS.rounding_slack, eye.incision_sia, 0.0),
        ),
        goals_apart=_apart(eye.goal_refraction),
        off_goal=np.abs(eye.predicted_mean - eye.goal_refraction),
        from_nasal=_turned(eye.incision_meridian - np.array(NASAL)),
        marks_apart=_turned(eye.marks_off),
    )
    _pairs(values)
    _own_lens(values, words)


def beyond(row: Array, low: Array | float, high: Array | float) -> Array:
    """How far a number lies outside its limits; below 0 inside them, NaN without the number."""
    return np.maximum(low - row, row - high)


def _known(one: NDArray[np.bool_], other: NDArray[np.bool_], row: Array) -> Array:
    return np.where(one & other, row, np.nan)


def _apart(row: Array) -> Array:
    return np.abs(row - row[:, ::-1])


def _turned(degrees: Array) -> Array:
    """How far a position on the circle is from 0, the shorter way round (degrees)."""
    return np.abs(np.mod(np.round(degrees, SHOWN) + 180, 360) - 180)


def _peak_over(values: Values, key: str) -> Array:
    """How far the peak is from a steep reading of a cornea with much cylinder (D)."""
    flat, steep = (values.get("eyes", f"{key}_{end}_power") for end in ("flat", "steep"))
    much = steep - flat > CONSTANTS.peak_cylinder + CONSTANTS.rounding_slack
    return np.where(much, np.abs(values.get("eyes", "peak_power") - steep), np.nan)


def _pairs(values: Values) -> None:
    """The axes of each pair of sources with enough cylinder, and the worst of them."""
    size, axis = values.get("sources", "source_cylinder"), values.get("sources", "source_axis")
    single = np.array([key not in DERIVED for key in SOURCES])
    counts = single & (np.nan_to_num(size) >= CONSTANTS.pair_axes_from - CONSTANTS.rounding_slack)
    own = np.where(counts, axis, np.nan)
    shown = np.round(own, SHOWN)
    gaps = {
        f"pair_{key}": np.round(axis_gap(shown, shown[..., n, None]), SHOWN)
        for n, key in enumerate(SOURCES)
        if single[n]
    }
    most = np.nan_to_num(np.fmax.reduce(list(gaps.values())))
    there_are = counts.sum(axis=-1).astype(float)
    values.put(
        "sources",
        pair_most=most,
        **gaps,
    )
    values.put("eyes", pairs_there=there_are, worst_pair=np.where(there_are > 1, most.max(axis=-1), np.nan))


def _own_lens(values: Values, words: Words) -> None:
    """What is unlikely of a lens that the clinic typed, and whether the file is a demonstration."""
    eye, c = EyeValues(values), CONSTANTS
    own = np.where(there(eye.lens_place), flag(is_own(values)), np.nan)
    usual = np.abs(eye.chosen_haigis_a1 - c.haigis_a1_default) + np.abs(eye.chosen_haigis_a2 - c.haigis_a2_default)
    factor = np.abs(eye.chosen_surgeon_factor - (c.surgeon_factor_slope * eye.chosen_a + c.surgeon_factor_offset))
    depth = np.abs(eye.chosen_hoffer_pacd - (c.hoffer_depth_slope * eye.chosen_a + c.hoffer_depth_offset))
    a0 = np.abs(eye.chosen_haigis_a0 - (c.haigis_a0_slope * eye.chosen_a + c.haigis_a0_offset))
    slopes = np.where(there(usual), flag(usual < CONSTANTS.rounding_slack), np.nan)
    a0 = a0 * slopes
    number = values.get("plan", "file_number")
    demo = [str(text)[:4].upper() == words.get("word", "demo_mark") for text in number]
    values.put(
        "eyes",
        lens_own=own,
        a_beyond=own * beyond(eye.chosen_a, c.own_a_lowest, c.own_a_highest),
        lens_given=np.nan_to_num(own) * there(eye.chosen_a),
        constants_apart=np.maximum(np.maximum(factor, depth), a0),
        step_apart=np.min([np.abs(eye.chosen_power_step - step) for step in STEPS], axis=0),
        demo_file=np.repeat(np.array(demo, dtype=float)[:, None], 2, axis=1),
    )
    offered = values.get("options", "option_offered")
    again = np.tril(offered[..., :, None] == offered[..., None, :], -1).any(axis=-1)
    falls = (offered < np.fmax.accumulate(offered, axis=-1) - CONSTANTS.rounding_slack) | again
    values.put(
        "options",
        option_unordered=np.where(there(offered), flag(falls), np.nan),
    )
