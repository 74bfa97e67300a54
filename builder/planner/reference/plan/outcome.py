"""Sheet of the register line: the steps to what was planned, implanted and seen of an eye.

Refractions come to 12 mm by power matrices, lens positions anew from the implanted lens's own constants.

Another method: refractions by power matrices and eigenvalues, predictions by ray-transfer matrices (vergence), where
the cells have each meridian and each vergence in closed form.
An echo: which line is shown, as the cells have it.
"""

from __future__ import annotations

import numpy as np

from builder.planner.reference import vectors, vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, at_number, flag, there
from builder.planner.reference.plan.follow_plan import PRINTED
from builder.planner.reference.plan.formulas import positions_of
from builder.planner.reference.plan.power import in_focus


def outcome(values: Values) -> None:
    """The steps to the register line of each eye, and whether there is one; what stands in it follows."""
    eye = EyeValues(values)
    _before(values)
    _after(values)
    _by_formula(values)
    uncoded = ~there(eye.plan_changed) & (eye.against_place == PRINTED)
    shown = (eye.eye_used == 1) & there(eye.judge_visit) & (np.nan_to_num(eye.plan_changed) == 0) & ~uncoded
    values.put(
        "eyes",
        outcome_shown=flag(shown),
        eye_unused=flag(eye.eye_used == 0),
        register_lacks=flag(~shown),
        release_lacks=flag(eye.released == 0),
        outcome_ready=flag(shown & (eye.released == 1)),
        trace_lacks=flag(~there(values.get("foreseen", "trace_sphere")[..., 0])),
    )


def _before(values: Values) -> None:
    """The refraction before surgery at 12 mm, and the ring after it."""
    eye = EyeValues(values)
    typed = vectors.to_power_vector_thibos1997(eye.refraction_sphere, eye.refraction_cylinder, eye.refraction_axis)
    at_cornea = vectors.propagate(vectors.matrix_of_power_vector(*typed), eye.refraction_vertex / 1000)
    worn = vectors.minus_cylinder_of_matrix(vectors.propagate(at_cornea, -CONSTANTS.vertex_of_formulas / 1000))
    first, second = (_at_twelve(values.get("eyes", f"refraction_{end}_at_cornea")) for end in ("sphere", "second"))
    size = eye.after_steep_power - eye.after_flat_power
    size = np.where(eye.follow_refused > 0, np.nan, size)
    values.put(
        "eyes",
        before_sphere=np.where(there(worn.sphere), worn.sphere, np.maximum(first, second)),  # without an axis
        before_cylinder=np.where(there(worn.cylinder), worn.cylinder, -np.abs(first - second)),
        before_axis=np.where(there(eye.refraction_axis), worn.axis, np.nan),
        after_ring_cylinder=size,
        after_ring_axis=np.where(size >= CONSTANTS.axis_free, vectors.fold_axis(eye.after_steep_axis), np.nan),
    )


def _at_twelve(power: Array) -> Array:
    return power / (1 + CONSTANTS.vertex_of_formulas * power / 1000)


def _after(values: Values) -> None:
    """The judged visit's refraction at 12 mm in minus cylinder, and its acuity."""
    eye = EyeValues(values)
    at_cornea = vectors.matrix_of_power_vector(eye.judged_mean, eye.judged_straight, eye.judged_oblique)
    worn = vectors.minus_cylinder_of_matrix(vectors.propagate(at_cornea, -CONSTANTS.vertex_of_formulas / 1000))
    values.put(
        "eyes",
        after_sphere=worn.sphere,
        after_cylinder=worn.cylinder,
        after_axis=vectors.minus_cylinder_of_matrix(at_cornea).axis,
        judged_acuity=at_number(values.get("checkups", "seen_acuity"), eye.judge_visit),
    )


def _by_formula(values: Values) -> None:
    """What each formula predicts with the implanted lens, from that lens's constants; last, the lead as measured."""
    eye = EyeValues(values)
    planned = values.get("formulas", "raw_position")
    raw = np.where(there(planned), positions_of(values, "fitted"), np.nan)  # counted from where the planned lens lies
    measured = {key: values.get("measured", key) for key in ("cornea_for_vergence", "optical_length", "raw_position")}
    raw = _beside(raw, measured["raw_position"] + eye.fitted_deeper[..., None]) - eye.fitted_forward[..., None]
    cornea, length = (
        _beside(values.get("formulas", key), measured[key]) for key in ("cornea_for_vergence", "optical_length")
    )
    position = np.where(vergence.position_is_valid(length, raw), raw, np.nan)
    power = np.repeat(eye.fitted_power[..., None], raw.shape[-1], axis=-1)
    values.put("outcomes", refraction_predicted=in_focus(cornea, length, position, power))


def _beside(rows: Array, more: Array) -> Array:
    return np.concatenate([rows, more], axis=-1)
