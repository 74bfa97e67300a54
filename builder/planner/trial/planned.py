"""Traced eyes planned by the workbook's reference, and what each would then get: all powers in D, arrays (eyes,).

The plan's own errors (length, position, label, visit) are drawn with the eye; the lens is the planned one, toric and
spherical, in the eye as light used it. The mean of regular eyes is taken off per formula and meaning of focus, as a
clinic's own lens constant would do.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np

from builder.engine.model import Model
from builder.engine.spec.words import Words
from builder.planner.exchange.casefile import typed_cells
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.formulas import FORMULAS
from builder.planner.reference.plan.sources import SOURCES
from builder.planner.reference.toric import refraction_toric_langenbucher2004
from builder.planner.values import evaluate_cases

from .eyes import LENS_A, MEANINGS, Line, diagnosis, name, numbers, typed_eye

Array = np.ndarray
REGULAR = "regular"
AT_ONCE = 100  # workbooks, two eyes each
LENS: dict[str, Any] = {"name": "Trial toric", "kind": "toric", "a_constant": LENS_A, "power_from": -10, "power_to": 40}
LENS |= {"power_step": 0.5, "cylinders": [1, 1.6, 2.2, 2.8, 3.4, 4, 5, 6, 7, 8, 9, 10]}  # invented
ANSWERS: dict[str, Any] = {
    "spectacle_acuity_before": "useful",
    "rigid_lens_afterwards": "no",
    "more_surgery_expected": "no",
}
ANSWERS |= {"months_stable": 36, "contact_lens": "none", "k_change_in_a_day": 0.2, "graft_sutures_out": "yes"}
ANSWERS |= {"axial_length_method": "optical", "incision_meridian": 180, "incision_sia": 0, "lens": "Trial toric"}
NOT_ASKED = {"graft_sutures_out": "graft", "k_change_in_a_day": "radial_cuts"}
CHANCES = ("chance_hyperopic", "chance_myopic", "chance_within_050", "chance_within_100")
EYE_ROWS = (
    "mean_k",
    "lens_power",
    "lens_cylinder",
    "marks_axis",
    "predicted_mean",
    "error_sd",
    "goal_refraction",
    "lead_place",
    "range_spread",
    "formula_spread",
)


class Planned(NamedTuple):
    """Eyes planned and operated on: kinds, plan's rows by key, and outcomes by meaning."""

    kinds: Array
    plan: Mapping[str, Array]  # the eye's rows; by formula (eyes, formulas), parts, sources (eyes, sources)
    error: Mapping[str, Array]  # by meaning: achieved less predicted mean, the mean of regular eyes off
    by_formula: Mapping[tuple[str, str], Array]
    cylinder: Mapping[tuple[str, str], Array]  # by meaning and "toric" or "spherical"
    missed: Mapping[tuple[str, str], Array]  # by meaning and source: length of the vector difference
    seen_parts: Mapping[str, Array]  # what length, position, label and visit moved, by part


def plan(lines: list[Line], model: Model) -> Planned:
    """Plans and operates on eyes; at least some of them must be regular."""
    rows = _rows(lines, model)
    kinds = np.array([line["kind"] for line in lines])
    regular, leads = kinds == REGULAR, np.nan_to_num(rows["lead_place"], nan=1).astype(int) - 1
    visit = numbers(lines, "visit_error") * np.where(
        np.isin(rows["diagnosis"], ("keratoconus", "ectasia_after_laser", "pellucid")),
        CONSTANTS.sd_refraction_cone,
        CONSTANTS.sd_refraction,
    )
    marks = np.nan_to_num(rows["marks_axis"], nan=180.0) + numbers(lines, "lens_turn")
    power = rows["lens_power"] + numbers(lines, "label_error")
    error: dict[str, Array] = {}
    by_formula: dict[tuple[str, str], Array] = {}
    cylinder: dict[tuple[str, str], Array] = {}
    missed: dict[tuple[str, str], Array] = {}
    for meaning in MEANINGS:
        mean, x, y = (numbers(lines, name(meaning, part)) for part in ("mean", "x", "y"))
        eye = mean, np.hypot(x, y), np.degrees(np.arctan2(y, x)) / 2
        length, position = numbers(lines, "true_length"), numbers(lines, "true_position")
        for kind, strength in (("toric", np.nan_to_num(rows["lens_cylinder"])), ("spherical", np.zeros(len(lines)))):
            got = refraction_toric_langenbucher2004(*eye, power, strength, marks, length, position)
            cylinder[meaning, kind] = np.abs(got.spectacles.cylinder)
            if kind == "toric":
                achieved = got.spectacles.mean + visit
        off = achieved[:, None] - rows["by_formula"]
        usual = np.nanmean(off[regular], axis=0)
        by_formula |= {(meaning, key): off[:, at] - usual[at] for at, key in enumerate(FORMULAS)}
        error[meaning] = achieved - rows["predicted_mean"] - usual[leads]
        for at, source in enumerate(SOURCES):
            missed[meaning, source] = np.hypot(rows["source_x"][:, at] - x, rows["source_y"][:, at] - y)
    slopes = rows["part_slope"]
    moved = {
        "length": slopes[:, 0] * (numbers(lines, "true_length") - numbers(lines, "axial_length")),
        "power": slopes[:, 3] * numbers(lines, "label_error"),
        "refraction": visit,
    }
    deeper = numbers(lines, "true_position")[:, None] - rows["position"]
    moved["position"] = slopes[:, 2] * (deeper - np.nanmean(deeper[regular], axis=0))[np.arange(len(lines)), leads]
    return Planned(kinds, rows, error, by_formula, cylinder, missed, moved)


def case(lines: list[Line], words: Words) -> dict[str, Any]:
    """A workbook's case of two eyes."""
    found: dict[str, Any] = {"plan": {"file_number": "TRIAL", "prepared_by": "A. Trial", "checked_by": "B. Trial"}}
    for side, line in zip(("right", "left"), lines, strict=False):
        called = diagnosis(line["kind"])
        asked = {key: value for key, value in ANSWERS.items() if NOT_ASKED.get(key, called) == called}
        found[side] = typed_eye(line) | asked | {"corneal_diagnosis": words.get("choice", called), "goal": goal(line)}
    return found | {"lens": [LENS]}


def goal(line: Line) -> float:
    """Myopic by mean K in cones, as published (watson2014); a quarter in other eyes."""
    mean = (line["ring_flat"] + line["ring_steep"]) / 2
    cone = diagnosis(line["kind"]) in ("keratoconus", "ectasia_after_laser", "pellucid")
    return -0.25 if not cone else -1.0 if mean < CONSTANTS.goal_band_low else -1.5


def _rows(lines: list[Line], model: Model) -> dict[str, Array]:
    parts = list(_portions(lines, model))
    rows = {key: np.concatenate([part[key] for part in parts])[: len(lines)] for key in parts[0]}
    return rows | {"diagnosis": np.array([diagnosis(line["kind"]) for line in lines])}


def _portions(lines: list[Line], model: Model) -> Iterator[dict[str, Array]]:
    words = model.spec.words
    for start in range(0, len(lines), 2 * AT_ONCE):
        some = lines[start : start + 2 * AT_ONCE]
        cases = [case(some[at : at + 2], words) for at in range(0, len(some), 2)]
        values = evaluate_cases(model, [typed_cells(model, one) for one in cases])

        def flat(owner: str, key: str) -> Array:
            found = values.get(owner, key)  # noqa: B023 - used at once
            return found.reshape(-1, *found.shape[2:])

        found = {key: flat("eyes", key) for key in (*EYE_ROWS, *CHANCES, "toric_verdict", "sd_focus")}
        found |= {"by_formula": flat("formulas", "refraction_predicted")}
        found |= {key: flat("sources", key) for key in ("source_x", "source_y")}
        found |= {key: flat("parts", key) for key in ("part_slope", "part_error")}
        found["position"] = flat("formulas", "lens_position")
        fit = flat("fit_items", "fit_value")
        found |= {f"fit_{key}": fit[:, at] for at, key in enumerate(model.spec.lists["fit_items"].keys)}
        yield found
