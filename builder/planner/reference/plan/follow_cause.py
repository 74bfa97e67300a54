"""Sheets of the follow-up, second part: errors of the visits, their causes, and what would explain them.

Another method: power matrices, eigenvalues and complex numbers, where the cells have X and Y apart; _explained by the
roots of positions_in_focus, where they solve a quadratic equation.
An echo: the values of the judged visit, effective_k and limits as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.planner.reference import follow_up, toric, vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan import follow_plan
from builder.planner.reference.plan.cells import Array, EyeValues, Values, at_number, there
from builder.planner.reference.plan.trace import Trace, trace
from builder.planner.reference.vectors import (
    axis_difference,
    magnitude_and_axis,
    matrix_of_power_vector,
    power_vector_of_matrix,
    principal_powers_harris1988,
)


def through_the_eye(eye: EyeValues) -> Trace:
    """The eye with the implanted lens, as the trace needs it."""
    exact_steep = np.where(eye.total_cylinder == 0, 0.0, np.degrees(np.angle(eye.total_x + 1j * eye.total_y)) / 2)
    rows = (eye.lead_cornea, eye.total_cylinder, exact_steep, eye.fitted_power, eye.lead_optical_length)
    return Trace(*(row[..., None] for row in (*rows, eye.fitted_position)))


def judged(values: Values) -> None:
    """Prediction for the implanted lens, errors of every visit, causes, and what would explain them."""
    eye = EyeValues(values)
    both = np.repeat(eye.fitted_cylinder[..., None], 2, axis=-1)
    marks = np.stack([eye.fitted_angle, eye.judged_lens_axis], axis=-1)
    marks = np.where(both > 0, marks, np.where(there(both), 0.0, np.nan))
    trace(values, "foreseen", through_the_eye(eye), both, marks)
    values.put(
        "foreseen",
    )
    mean, straight, oblique, effect = (
        values.get("foreseen", f"trace_{key}") for key in ("mean", "straight", "oblique", "effect")
    )
    live = 2 * (straight + 1j * oblique)
    expected_mean, expected = follow_plan.as_operated(values, mean[..., 0], live[..., 0])
    found = 2 * (values.get("checkups", "found_straight") + 1j * values.get("checkups", "found_oblique"))
    missed = found - expected[..., None]
    error = magnitude_and_axis(missed)
    size = np.where(there(np.abs(missed)), error.magnitude, np.nan)
    seen = values.get("checkups", "seen_lens_axis")
    rotation = axis_difference(seen, eye.fitted_angle[..., None])
    since = np.where(there(rotation), axis_difference(seen, eye.first_lens_axis[..., None]), np.nan)
    visit_mean = values.get("checkups", "found_mean") - expected_mean[..., None]
    values.put(
        "checkups",
        visit_error_mean=visit_mean,
        visit_error_cylinder=size,
        visit_error_axis=error.axis,
        visit_rotation=rotation,
        visit_since_first=since,
    )
    number = eye.judge_visit
    left = 2 * (eye.judged_straight + 1j * eye.judged_oblique)
    along = np.conj(left) / np.where(np.abs(left) < CONSTANTS.axis_free, np.nan, np.abs(left))
    put, lying = live[..., 0], live[..., 1]
    lens = toric.vergence_at_cornea(
        eye.fitted_power,
        eye.fitted_cylinder,
        np.where(eye.fitted_cylinder > 0, eye.judged_lens_axis, 0.0),
        eye.lead_optical_length,
        eye.fitted_position,
    )
    cornea = lens - matrix_of_power_vector(eye.judged_mean, eye.judged_straight, eye.judged_oblique)
    needed, parts = principal_powers_harris1988(cornea), power_vector_of_matrix(cornea)
    absent = ~there(parts.j0)
    _explained(values, expected_mean, at_number(visit_mean, number))
    values.put(
        "eyes",
        error_cylinder=at_number(size, number),
        error_axis=at_number(error.axis, number),
        rotation_from_plan=at_number(rotation, number),
        rotation_since_first=at_number(since, number),
        left_size=np.abs(left),
        cause_planned=(expected * along).real,
        cause_rotation=((lying - put) * along).real,
        cause_cornea=((left - lying - (expected - put)) * along).real,
        needed_x=2 * parts.j0,
        needed_y=2 * parts.j45,
        needed_cylinder=np.where(absent, np.nan, needed.cylinder),
        needed_axis=needed.strongest,
        needed_apart=np.abs(2 * (parts.j0 + 1j * parts.j45) - (eye.total_x + 1j * eye.total_y)),
        lens_effect=np.where(eye.fitted_cylinder > 0, effect[..., 1], np.nan),
    )


def _explained(values: Values, expected: Array, error: Array) -> None:
    """The lens position and the mean K, each of which alone would explain the mean."""
    eye = EyeValues(values)
    length, power = eye.lead_optical_length, eye.fitted_power
    scalar = vergence.refraction(eye.lead_cornea, length, eye.fitted_position, power, 0.0)
    behind = eye.lead_cornea + eye.judged_mean - (expected - scalar)
    roots = follow_up.positions_in_focus(behind, length, power)
    square = ((roots[..., 0] - roots[..., 1]) ** 2).real
    raw = np.where(square >= -CONSTANTS.rounding_slack, roots.real.min(axis=-1), np.nan)
    inside = (raw >= CONSTANTS.shallowest_lens - CONSTANTS.rounding_slack) & (
        raw <= CONSTANTS.deepest_lens + CONSTANTS.rounding_slack
    )
    values.put(
        "eyes",
        error_mean=error,
        effective_position=np.where(inside, raw, np.nan),
        effective_k=(eye.lead_cornea - error) * eye.mean_k / eye.lead_cornea,
    )
