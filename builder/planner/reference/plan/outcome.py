"""Sheet of the register line: what was planned, implanted and seen of an eye, in the columns of the register.

Refractions come to 12 mm by power matrices, lens positions anew from the implanted lens's own constants.

Another method: refractions by power matrices and eigenvalues, predictions by ray-transfer matrices (vergence), where
the cells have each meridian and each vergence in closed form.
An echo: which line is shown, and its columns, as the cells have them.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import vectors, vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, at_number, flag, place_of, select, there
from builder.planner.reference.plan.follow_plan import PRINTED
from builder.planner.reference.plan.formulas import FORMULAS, positions_of

# Column of the register -> row of the eyes; the others are put beside them.
COLUMNS = {
    "status": "status",
    "corneal_diagnosis": "corneal_diagnosis",
    "axial_length": "axial_length",
    "acd": "chamber_depth",
    "mean_k": "mean_k",
    "position_k": "position_k",
    "mean_k_source": "mean_k_source",
    "a_constant": "fitted_a",
    "surgeon_factor": "fitted_surgeon_factor",
    "hoffer_pacd": "fitted_hoffer_pacd",
    "haigis_a0": "fitted_haigis_a0",
    "haigis_a1": "fitted_haigis_a1",
    "haigis_a2": "fitted_haigis_a2",
    "lead_formula": "lead_name",
    "goal": "goal_refraction",
    "incision_meridian": "incision_meridian",
    "incision_sia": "incision_sia",
    "ring_cylinder_after": "after_ring_cylinder",
    "ring_axis_after": "after_ring_axis",
    "sphere_before": "before_sphere",
    "cylinder_before": "before_cylinder",
    "axis_before": "before_axis",
    "day": "judged_day",
    "sphere": "after_sphere",
    "cylinder": "after_cylinder",
    "axis": "after_axis",
    "acuity": "judged_acuity",
    "lens_axis": "judged_lens_axis",
    "length_rule": "length_rule_used",
}
RELEASED = {
    "lens": "fitted_lens",
    "implanted_power": "fitted_power",
    "implanted_cylinder": "fitted_cylinder",
    "implanted_axis": "fitted_axis",
    "lens_seat": "fitted_seat",
}
PREDICTED = {"sphere": "trace_sphere", "cylinder": "trace_cylinder_left", "axis": "trace_axis_left"}
SAID = ("unused", "no_visit", "changed", "withheld", "no_prediction", "ready")
RING = 3  # of the sources of astigmatism
PUT = 0  # of the lens as it was put and as it was found


def outcome(values: Values, words: Words, edition: str) -> None:
    """The register line of each eye and the steps to it."""
    eye, w = EyeValues(values), words.get
    _before(values)
    _after(values)
    _by_formula(values)
    judged = (eye.eye_used == 1) & there(eye.judge_visit)
    uncoded = ~there(eye.plan_changed) & (eye.against_place == PRINTED)
    shown = judged & (np.nan_to_num(eye.plan_changed) == 0) & ~uncoded
    ready = shown & (eye.released == 1)
    found: dict[str, Any] = {column: _row(values, row) for column, row in COLUMNS.items()}
    found |= {f"predicted_{key}": values.get("foreseen", row)[..., PUT] for key, row in PREDICTED.items()}
    predicted = values.get("outcomes", "refraction_predicted")
    found |= {f"predicted_{key}": predicted[..., number] for number, key in enumerate(FORMULAS)}
    found["predicted_as_measured"] = predicted[..., len(FORMULAS)]
    found |= {f"ring_{key}_before": values.get("sources", f"source_{key}")[..., RING] for key in ("cylinder", "axis")}
    for column, row in (("file_number", "file_number"), ("date", "plan_date")):
        found[column] = np.repeat(values.get("plan", row)[:, None], shown.shape[1], axis=1)
    found["edition"] = np.full(shown.shape, edition, dtype=object)
    found["eye"] = np.broadcast_to(np.array([w("choice", "right"), w("choice", "left")], dtype=object), shown.shape)
    lines = {column: _where(shown, row) for column, row in found.items()}
    lines |= {column: _where(ready, _row(values, row)) for column, row in RELEASED.items()}
    said = select(
        [
            (eye.eye_used == 0, w("word", "outcome_unused")),
            (~judged, w("word", "outcome_no_visit")),
            (~shown, w("word", "outcome_changed")),
            (~ready, w("word", "outcome_withheld")),
            (~there(found["predicted_sphere"]), w("word", "outcome_no_prediction")),
        ],
        w("word", "outcome_ready"),
    )
    order = [w("word", f"outcome_{key}") for key in SAID]
    values.put(
        "eyes",
        page_uncoded=flag(uncoded),
        outcome_shown=flag(shown),
        outcome_said=said,
        line_place=place_of(said, order),
    )
    values.put("eyes", **{f"outcome_{column}": row for column, row in lines.items()})


def _row(values: Values, key: str) -> Any:
    return values.get("eyes", key)


def _where(shown: Any, row: Any) -> Any:
    return np.where(shown, row, "" if row.dtype == object else np.nan)


def _before(values: Values) -> None:
    """The refraction before surgery at 12 mm, and the ring after it."""
    eye = EyeValues(values)
    typed = vectors.to_power_vector_thibos1997(eye.refraction_sphere, eye.refraction_cylinder, eye.refraction_axis)
    at_cornea = vectors.propagate(vectors.matrix_of_power_vector(*typed), eye.refraction_vertex / 1000)
    worn = vectors.minus_cylinder_of_matrix(vectors.propagate(at_cornea, -CONSTANTS.vertex_of_formulas / 1000))
    first, second = (_at_twelve(_row(values, f"refraction_{end}_at_cornea")) for end in ("sphere", "second"))
    size = eye.after_steep_power - eye.after_flat_power
    size = np.where(eye.follow_refused > 0, np.nan, size)
    values.put(
        "eyes",
        before_first=first,
        before_second=second,
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
    principal = vectors.principal_powers_harris1988(at_cornea)
    values.put(
        "eyes",
        after_sphere=worn.sphere,
        after_cylinder=worn.cylinder,
        after_axis=vectors.minus_cylinder_of_matrix(at_cornea).axis,
        after_half_size=principal.cylinder / 2,
        after_high_at_cornea=principal.mean + principal.cylinder / 2,
        after_low_at_cornea=principal.mean - principal.cylinder / 2,
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
    needed = 1000 * CONSTANTS.index_aqueous / (length - position)
    at_cornea = vergence.refraction(cornea, length, position, power, 0.0)
    scale = 1 + CONSTANTS.vertex_of_formulas * at_cornea / 1000
    values.put(
        "outcomes",
        cornea_for_vergence=cornea,
        optical_length=length,
        outcome_raw_position=raw,
        lens_position=position,
        lens_power=power,
        vergence_needed=needed,
        vergence_left=needed - power,
        refraction_at_cornea=at_cornea,
        refraction_scale=scale,
        refraction_predicted=np.where(scale > 0, vergence.refraction(cornea, length, position, power), np.nan),
    )


def _beside(rows: Array, more: Array) -> Array:
    return np.concatenate([rows, more], axis=-1)
