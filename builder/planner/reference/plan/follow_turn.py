"""Sheets of the follow-up, third part: turning, changing, adding, half of the other eye's error shown only.

Another method: vergence matrices and eigenvalues for what each axis and lens leaves, where the cells have closed forms;
the incision's effect by turning a complex number, where they have cosine and sine.
An echo: the turn between two axes, the multiplier of the rule and what counts of the other eye as the cells compute
them.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import astigmatism, circle, follow_up, toric, vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, flag, there
from builder.planner.reference.vectors import (
    axis_difference,
    double_angle,
    fold_axis,
    magnitude_and_axis,
    matrix_of_power_vector,
    minus_cylinder_of_matrix,
    power_vector_of_matrix,
    propagate,
)

SWINGS = np.arange(-90.0, 100.0, 10.0)  # degrees from where the lens lies


def _worn(at_cornea: Array) -> Array:
    """A correction matrix at the cornea as worn in the spectacle plane of the predictions."""
    weakest = power_vector_of_matrix(at_cornea)
    low = weakest.mean - np.hypot(weakest.j0, weakest.j45)
    possible = 1 + CONSTANTS.vertex_of_formulas * low / 1000 > 0
    return np.where(possible[..., None, None], propagate(at_cornea, -CONSTANTS.vertex_of_formulas / 1000), np.nan)


def turning(values: Values, words: Words) -> None:
    """The best axis, what is left there, and what is left at every tenth degree of turning."""
    eye, w = EyeValues(values), words.get
    has = there(eye.lens_effect)
    lens = (eye.fitted_power, np.where(has, eye.fitted_cylinder, np.nan))
    placed = (eye.lead_optical_length, eye.fitted_position)
    best = np.where(eye.fitted_cylinder > 0, fold_axis(np.round(eye.needed_axis, 6)), np.nan)  # as the cells round it
    cornea_mean = power_vector_of_matrix(toric.vergence_at_cornea(*lens, 0.0, *placed)).mean - eye.judged_mean
    cornea = matrix_of_power_vector(cornea_mean, eye.needed_x / 2, eye.needed_y / 2)
    at_best = toric.vergence_at_cornea(*lens, np.degrees(np.angle(eye.needed_x + 1j * eye.needed_y)) / 2, *placed)
    after = at_best - cornea
    signed = eye.needed_cylinder - eye.lens_effect
    worn, bare = minus_cylinder_of_matrix(_worn(after)), minus_cylinder_of_matrix(after)
    high, low = worn.sphere, worn.sphere + worn.cylinder
    notation = np.broadcast_to(values.get("plan", "cylinder_notation")[:, None], signed.shape)
    plus, known = notation == w("choice", "plus"), there(notation)
    turn = axis_difference(best, eye.judged_lens_axis)
    now = matrix_of_power_vector(eye.judged_mean, eye.judged_straight, eye.judged_oblique)
    at_spectacles = -minus_cylinder_of_matrix(propagate(now, -CONSTANTS.vertex_of_formulas / 1000)).cylinder
    values.put(
        "eyes",
        left_at_spectacles=at_spectacles,
        best_axis=best,
        turn_by=turn,
        cylinder_after_turn=signed,
        turn_gain=eye.left_size - np.abs(signed),
        turned_sphere=np.where(plus, low, high),
        turned_cylinder=np.where(known, np.where(plus, high - low, low - high), np.nan),
        turned_axis=np.where(known, np.where(plus, fold_axis(bare.axis + 90), bare.axis), np.nan),
        turn_whole=circle.whole(np.abs(turn)),
        seen_axis_whole=fold_axis(circle.whole(eye.judged_lens_axis)),
        best_axis_whole=fold_axis(circle.whole(best)),
    )
    (power, cylinder), (length, position) = ([row[..., None] for row in pair] for pair in (lens, placed))
    swung_to = np.where(has, eye.judged_lens_axis, np.nan)[..., None] + SWINGS
    swung = toric.vergence_at_cornea(power, cylinder, swung_to, length, position)
    left = swung - cornea[..., None, :, :]
    values.put(
        "swings",
        swing_axis=fold_axis(np.round(swung_to, 6)),
        swing_left=minus_cylinder_of_matrix(_worn(left)).cylinder,
    )


def exchange(values: Values) -> None:
    """Another lens in the bag, a second lens in the sulcus, the usual multiplier; half of the other eye's error."""
    eye = EyeValues(values)
    net = follow_up.net_power(eye.mean_k)
    position = np.stack([eye.fitted_position, eye.fitted_position - CONSTANTS.sulcus_forward], axis=-1)
    settled = eye.settled == 1
    now, wanted = np.where(settled, net + eye.judged_mean, np.nan), net + eye.goal_at_cornea

    def both(row: Array) -> Array:
        return np.repeat(row[..., None], 2, axis=-1)

    plain = [follow_up.arriving(both(row)[..., None, None] * np.eye(2), position)[..., 0, 0] for row in (now, wanted)]
    added = plain[0] - plain[1]
    effect = values.get("foreseen", "trace_effect")[..., 1]
    vectors = (
        double_angle(effect, np.where(eye.fitted_cylinder > 0, eye.judged_lens_axis, 0.0)),
        eye.needed_x + 1j * eye.needed_y,
    )
    kept = []
    for mean, vector in ((now, vectors[0]), (wanted, vectors[1])):
        at_cornea = matrix_of_power_vector(both(mean), both(vector.real / 2), both(vector.imag / 2))
        kept.append(power_vector_of_matrix(follow_up.arriving(at_cornea, position)))
    mean_added = kept[0].mean - kept[1].mean
    arriving_now, arriving_wanted = (2 * (part.j0 + 1j * part.j45) for part in kept)
    arriving_wanted = np.where(both(eye.needed_cylinder) < CONSTANTS.axis_free, 0, arriving_wanted)
    lens_marks = np.stack(
        [arriving_wanted[..., 0] + 0 * arriving_now[..., 0], arriving_wanted[..., 1] - arriving_now[..., 1]], axis=-1
    )
    found = magnitude_and_axis(lens_marks)
    absent = np.isnan(lens_marks)
    missed = eye.judged_sphere + eye.judged_cylinder / 2 - eye.goal_refraction
    multiplier = np.where(missed > 0, CONSTANTS.rule_far, CONSTANTS.rule_short)
    multiplier = np.where(there(missed) & settled, multiplier, np.nan)
    in_place = np.stack([eye.fitted_power, np.zeros(eye.fitted_power.shape)], axis=-1)
    total = {key: in_place + row for key, row in (("exchange", added), ("exact", mean_added))}
    values.put(
        "exchanges",
        lens_added=added,
        exchange_lens_power=total["exchange"],
        exact_lens_power=total["exact"],
        exact_lens_cylinder=np.where(absent, np.nan, found.magnitude),
        exact_lens_marks=found.axis,
        rule_lens_power=in_place + both(missed * multiplier),
        true_share=np.where(
            np.abs(both(missed)) < CONSTANTS.little_missed - CONSTANTS.rounding_slack, np.nan, added / both(missed)
        ),
    )
    error = eye.error_mean[:, ::-1]
    gap = np.abs(eye.mean_k - eye.mean_k[:, ::-1])
    alike = (gap <= CONSTANTS.fellow_like_k + CONSTANTS.rounding_slack) & (
        eye.corneal_diagnosis == eye.corneal_diagnosis[:, ::-1]
    )
    known = there(gap) & (there(eye.corneal_diagnosis)).all(axis=-1, keepdims=True)
    half = np.where(known & alike & settled[:, ::-1], error / 2, np.nan)
    aim = eye.goal_at_cornea - half
    power = vergence.lens_power(eye.lead_cornea, eye.lead_optical_length, eye.lead_position, aim, 0.0)
    values.put(
        "eyes",
        net_cornea=net,
        rule_multiplier=multiplier,
        exchange_power=total["exchange"][..., 0],
        second_lens_power=total["exchange"][..., 1],
        fellow_error=error,
        half_alike=np.where(known, flag(alike), np.nan),
        fellow_half=half,
        half_power=power,
        half_change=power - eye.exact_power,
    )
    after = astigmatism.corneal_astigmatism(eye.after_flat_power, eye.after_steep_power, eye.after_steep_axis)
    before = values.get("sources", "source_x")[..., 3] + 1j * values.get("sources", "source_y")[..., 3]
    change = np.where(there(eye.after_steep_axis) & (eye.follow_refused == 0), after - before, np.nan)
    own = -change * np.exp(-2j * np.radians(eye.incision_meridian))
    values.put(
        "eyes",
        incision_effect=np.where(np.isnan(own), np.nan, own.real),
        incision_effect_across=np.where(np.isnan(own), np.nan, own.imag),
    )
