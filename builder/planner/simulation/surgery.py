"""Invented operations: the planned lens goes into an eye that differs from its measurements, and is followed up."""

from __future__ import annotations

from typing import Any

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import toric
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Values
from builder.planner.reference.plan.cornea import CANDIDATES
from builder.planner.reference.vectors import fold_axis, magnitude_and_axis
from builder.planner.simulation.eyes import CONES, Eye, quarter
from builder.planner.simulation.population import Draws

SLIPS = 25.0  # one lens of so many turns far
BACK = CANDIDATES.index("back")


def operate(values: Values, number: int, side: int, draws: Draws, words: Words) -> Eye:
    """What is implanted and seen later of one eye whose plan the reference computed: powers in D, axes in degrees.

    Achieved = the reference's own trace through the eye as it is. Its errors are those of the plan's error budget,
    with the corneal power scattered about the back-corrected one, the clinic's own incision effect, and rotation.
    """

    def row(key: str, owner: str = "eyes") -> Any:
        return values.get(owner, key)[number, side]

    cone = row("corneal_diagnosis") in {words.get("choice", key) for key in CONES}
    power, cylinder = float(row("lens_power")), float(row("lens_cylinder"))
    marks = float(np.round(row("marks_axis"))) if cylinder > 0 else None
    turn = draws.figure("rotation_slipped" if draws.happens(SLIPS) else "rotation")
    cut, along, across = (
        float(row("incision_meridian")),
        draws.figure("incision_effect"),
        draws.figure("incision_scatter"),
    )
    change = -(along + 1j * across) * np.exp(2j * np.radians(cut))
    noise = "vector_gap_irregular" if cone else "vector_gap"
    gap = draws.figure(noise) + 1j * draws.figure(noise)
    cornea = magnitude_and_axis(np.asarray(row("cornea_x") + 1j * row("cornea_y") + gap + change))
    true_k = _true_k(values, number, side)
    true_k = true_k + draws.heavy(float(row("sd_cornea"))) - (draws.figure("hyperopic_shift_cone") if cone else 0.0)
    deeper = draws.figure("deeper_wren") if row("lens_choice") == words.get("word", "lens_example2") else 0.0
    seen = toric.refraction_toric_langenbucher2004(
        row("lead_index_ratio") * true_k,
        cornea.magnitude,
        np.nan_to_num(cornea.axis, nan=180.0),
        power + draws.normal(0, CONSTANTS.sd_power),
        cylinder,
        (marks or 0) + turn,
        row("lead_optical_length") + draws.heavy(CONSTANTS.sd_length_optical),
        row("lead_position") + draws.heavy(CONSTANTS.sd_position) + deeper,
    ).spectacles
    sphere, minus = float(seen.sphere), float(seen.cylinder)
    mean = sphere + minus / 2 + draws.normal(0, CONSTANTS.sd_refraction)
    written = quarter(minus)
    loss = draws.figure("acuity_loss_irregular" if cone else "acuity_loss")
    axis = float(np.nan_to_num(seen.axis, nan=180.0))
    lens_axis = {} if marks is None else {"lens_axis": _whole(marks + turn)}
    typed: Eye = {"implanted_power": power, "implanted_cylinder": cylinder}
    if marks is not None:
        typed["implanted_axis"] = _whole(marks)
    visit = {
        "day": max(21, round(draws.figure("visit_day"))),
        "sphere": quarter(mean - written / 2),
        "cylinder": written,
        "axis": int(fold_axis(5 * round((axis + draws.normal(0, 3)) / 5))),
        "acuity": round(10 ** -max(loss, -0.1), 2),
    }
    return typed | {"visit": [visit | lens_axis]} | _ring_after(values, number, side, change, draws)


def _true_k(values: Values, number: int, side: int) -> float:
    """The power that the back surface leaves of the cornea; where none was measured, the mean K itself."""
    back = values.get("candidates", "candidate_power")[number, side, BACK]
    return float(np.where(np.isnan(back), values.get("eyes", "mean_k")[number, side], back))


def _ring_after(values: Values, number: int, side: int, change: complex, draws: Draws) -> Eye:
    """The ring as it is read after surgery."""
    flat, steep = (float(values.get("eyes", f"ring_{end}_power")[number, side]) for end in ("flat", "steep"))
    before = (steep - flat) * np.exp(2j * np.radians(float(values.get("eyes", "ring_steep_axis")[number, side])))
    after = magnitude_and_axis(
        np.asarray(before + change + draws.figure("reading_noise") + 1j * draws.figure("reading_noise"))
    )
    mean, size = (flat + steep) / 2 + draws.normal(0, 0.1), float(after.magnitude)
    axis = float(np.nan_to_num(after.axis, nan=90.0))
    return {
        "after_flat": round(mean - size / 2, 2),
        "after_flat_axis": _whole(axis + 90),
        "after_steep": round(mean + size / 2, 2),
        "after_steep_axis": _whole(axis),
    }


def _whole(axis: float) -> int:
    return round(axis) % 180 or 180
