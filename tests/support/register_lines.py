"""Invented lines of a register, from a seed: predictions by the reference, outcomes with an error around them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.engine.layout import Place
from builder.engine.model import Model
from builder.engine.values import cell_values
from builder.planner.exchange.register import Line, register_cells
from builder.planner.reference import lens_position as place
from builder.planner.reference import vergence
from builder.planner.reference.lens_length import adjusted_length_wang2011
from builder.planner.reference.plan.cells import Values
from builder.planner.reference.register.rows import FORMULAS
from builder.planner.values import evaluate_cases

DIAGNOSES = ("keratoconus", "regular", "ectasia after laser", "pellucid", "after myopic laser", "graft", "other")
LENSES = ("Example toric", "Example plain", "Example three-piece", "Own lens")
CONSTANTS = {"a_constant": 118.27, "surgeon_factor": 1.34, "hoffer_pacd": 5.09}
HAIGIS = {"haigis_a0": 0.97, "haigis_a1": 0.37, "haigis_a2": 0.11}


def predictions(line: Line) -> dict[str, float]:
    """Spherical equivalent (D) that each formula expects of the implanted lens."""
    measured, k, position_k = line["axial_length"], line["mean_k"], line["position_k"]
    adjusted = line.get("length_rule") == "adjusted"
    used = {name: adjusted_length_wang2011(name, measured) if adjusted else measured for name in vergence.FORMULAS}
    positions = (
        place.position_srkt_retzlaff1990(used["SRK/T"], position_k, line["a_constant"]).position,
        place.position_holladay1988(used["Holladay 1"], position_k, line["surgeon_factor"]).position,
        place.position_hoffer1993(used["Hoffer Q"], position_k, line["hoffer_pacd"]).position,
        place.position_haigis2000(
            used["Haigis"], line.get("acd", np.nan), line["haigis_a0"], line["haigis_a1"], line["haigis_a2"]
        ).position,
        place.position_sheard2010(used["T2"], position_k, line["a_constant"]).position,
    )
    found = {}
    for key, name, position in zip(FORMULAS, vergence.FORMULAS, positions, strict=True):
        cornea, optical = vergence.corneal_power(name, k), vergence.optical_length(name, used[name])
        value = float(vergence.refraction(cornea, optical, position, line["implanted_power"]))
        if not np.isnan(value):
            found[f"predicted_{key}"] = round(value, 4)
    return found


def invented_lines(count: int, seed: int = 1) -> list[dict[str, Any]]:
    """Lines of invented eyes; some lack an optional part, one lens stands in enough of them for its constant."""
    draw = np.random.default_rng(seed)
    return [_line(number, draw) for number in range(count)]


def in_the_sulcus(lines: Sequence[Line]) -> list[Line]:
    """The lines, of which some lenses lie in the sulcus."""
    return [line | ({"lens_seat": "in the sulcus"} if number % 7 == 3 else {}) for number, line in enumerate(lines)]


def paired(count: int, seed: int) -> list[dict[str, Any]]:
    """Invented lines of `count` patients, each with both eyes; the left eye's error goes along with the right one's."""
    lines: list[dict[str, Any]] = []
    for number, line in enumerate(invented_lines(count, seed=seed)):
        for eye, more in (("right", 0.0), ("left", 0.25 * (number % 3 - 1))):
            lines.append({**line, "file_number": f"P{number}", "eye": eye, "sphere": line["sphere"] + more})
    return lines


def of_patients(model: Model, count: int) -> list[dict[Place, Any]]:
    """Two registers of so many patients, most eyes with one lens in regular corneas; the other as much too hyperopic as
    can be."""
    lines = paired(count, seed=9)
    for number, line in enumerate(lines):
        line["predicted_as_measured"] = line["predicted_srkt"] + 0.2
        if number % 5 == 0:
            line.pop("ring_axis_before", None)
        if number % 6:
            line |= {"lens": "Example toric", "corneal_diagnosis": "regular", "mean_k_source": "ring"}
    return [register_cells(model, part) for part in (lines, [line | {"sphere": line["sphere"] + 3} for line in lines])]


def _line(number: int, draw: np.random.Generator) -> dict[str, Any]:
    k = float(
        np.round(draw.choice([draw.normal(44, 1.5), draw.normal(50, 3), draw.uniform(55, 60)], p=[0.5, 0.4, 0.1]), 2)
    )
    length = float(np.round(draw.normal(24.2, 1.1), 2))
    line: dict[str, Any] = {
        "file_number": f"R{1000 + number // 2}" if number % 3 else 5000 + number,
        "eye": ("right", "left")[number % 2],
        "edition": "0.1.0-00000000",
        "status": "ready",
        "date": 45000.0 + float(draw.integers(0, 2200)),
        "corneal_diagnosis": str(draw.choice(DIAGNOSES, p=[0.45, 0.25, 0.1, 0.05, 0.05, 0.05, 0.05])),
        "axial_length": length,
        "length_rule": "adjusted" if length > 25 and number % 4 else "as measured",
        "lens_seat": ("in the bag", "")[number % 2],
        "acd": float(np.round(draw.normal(3.3, 0.3), 2)),
        "mean_k": k,
        "position_k": k if k < 49 else 43.86,
        "mean_k_source": "back" if number % 7 == 5 else "ring",
        "lens": str(draw.choice(LENSES, p=[0.6, 0.25, 0.1, 0.05])),
        **CONSTANTS,
        **HAIGIS,
        "lead_formula": "SRK/T",
        "goal": -0.5,
        "implanted_power": float(np.round(float(vergence.lens_power(k * 0.9867, length, 5.4, -0.5)) * 2) / 2),
        "implanted_cylinder": float(draw.choice([0.0, 1.5, 3.0])),
        "implanted_axis": float(draw.integers(1, 181)),
    }
    line |= predictions(line)
    expected = line.get("predicted_srkt", -0.5)
    planned = float(np.round(abs(draw.normal(0.2, 0.2)), 2))
    ring, turn = float(np.round(abs(draw.normal(3, 1.5)), 2)), float(draw.integers(1, 181))
    error = float(draw.normal(0.25, 0.5 if k < 48 else 0.9))
    cylinder = float(np.round(abs(draw.normal(0.6, 0.4)) * 4) / 4)
    line |= {
        "predicted_sphere": round(expected + planned / 2, 2),
        "predicted_cylinder": -planned,
        "predicted_axis": float(draw.integers(1, 181)),
        "ring_cylinder_before": ring,
        "ring_axis_before": turn,
        "incision_meridian": float(draw.integers(0, 361)),
        "incision_sia": 0.1,
        "ring_cylinder_after": float(np.round(abs(ring + draw.normal(0, 0.2)), 2)),
        "ring_axis_after": float((turn + draw.integers(-3, 4)) % 181),
        "sphere_before": float(np.round(draw.normal(-4, 4) * 4) / 4),
        "cylinder_before": -float(np.round(ring * 4) / 4),
        "axis_before": float((turn + 90) % 180),
        "day": float(draw.integers(28, 120)),
        "sphere": float(np.round((expected + error + cylinder / 2) * 4) / 4),
        "cylinder": -cylinder,
        "axis": float(draw.integers(0, 181)),
        "acuity": float(np.round(draw.uniform(0.3, 1.2), 1)),
        "lens_axis": float((line["implanted_axis"] + np.round(draw.normal(0, 5))) % 180),
    }
    if draw.uniform() < 0.15:
        line.pop(
            str(draw.choice(["date", "acd", "ring_cylinder_after", "lens_axis", "ring_axis_before", "incision_sia"]))
        )
    return line


def expected_register(model: Model, registers: list[dict[Place, Any]]) -> list[dict[Place, Any]]:
    """The reference's value of every formula cell, for each register."""
    values = evaluate_cases(model, registers)
    return [cell_values(model, values, number) for number in range(len(registers))]


def row_of(model: Model, values: Values, name: str, key: str) -> NDArray[np.float64]:
    """A row of the first register by list and key, also one that has no twin; NaN for empty cells."""
    cells, slots = cell_values(model, values), model.layout.cells(name, key).values()
    return np.array([np.nan if cells[slot.place] is None else cells[slot.place] for slot in slots])
