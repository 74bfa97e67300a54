"""Drawn eyes planned twice: by the workbook's reference and by the second opinion, which shares nothing with it.

Not judged, for the two read the basis differently there: a regular cornea past SRK/T's root (`past_the_root`), whose
lens the workbook places by the cornea's own K because T2 leads and has no root, where the basis says population K.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import Any

import pytest

from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from builder.planner.reference.eyes import EYES
from builder.planner.values import evaluate_cases
from tests.support.second_opinion import mean_power
from tests.support.second_opinion_lens import length_used, opinion, srkt_ratio

DRAWN = 200  # cases of two eyes
ROWS = {"mean_k": "mean_k", "exact": "exact_power", "power": "lens_power", "cylinder": "lens_cylinder"}
STEEPNESS = {  # of the corneas drawn, D; the others from 42 to 57
    "regular": (40, 46.5),
    "after myopic laser": (36, 42),
    "radial cuts": (36, 42),
    "after hyperopic laser": (43, 48),
}
OTHERS = ("keratoconus", "ectasia after laser", "pellucid", "graft", "other")
SELDOM: dict[str, tuple[Sequence[Any], float]] = {  # chosen with this chance
    "acd": ((2.63, 2.97, 3.24, 3.58, 3.91), 0.85),
    "lead_formula": (("SRK/T", "Holladay 1", "Hoffer Q", "Haigis", "T2", "safe side"), 0.3),
    "k_rule": (("lowest", "ring", "mean of zones", "total", "after laser"), 0.25),
    "position_k_rule": (("same", "population"), 0.15),
    "before_laser_k": ((42.5, 44.0, 45.5), 0.3),
    "step_rule": (("nearest", "myopic side"), 0.2),
    "cylinder_rule": (("smallest residual", "no axis flip"), 0.25),
    "astigmatism_source": (("total3", "front and back", "zone3", "ring", "regression"), 0.2),
    "length_rule": (("adjusted", "as measured"), 0.15),
    "axial_length_method": (("optical", "immersion", "contact"), 0.4),
    "incision_sia": ((0, 0.2, 0.5), 0.3),
}


def drawn_eye(draw: random.Random) -> dict[str, Any]:
    """An invented eye whose readings are near each other."""
    diagnosis = draw.choice((*STEEPNESS, *OTHERS))
    k = draw.uniform(*STEEPNESS.get(diagnosis, (42, 57)))
    cylinder, axis = draw.choice((0.4, 1.2, 2.5, 4, 7)), draw.uniform(0, 180)
    length = draw.choice((draw.uniform(21, 25), draw.uniform(24.8, 26.2), draw.uniform(20, 30)))
    eye: dict[str, Any] = {"corneal_diagnosis": diagnosis, "axial_length": round(length, 2)}
    eye |= {"goal": draw.choice((-2, -1.5, -1, -0.5, -0.25, 0)), "incision_meridian": draw.randrange(360)}
    eye["lens"] = draw.choice(("Example Heron", "Example Wren", "Example Plover", "Example Curlew"))
    for source in ("ring", "zone3", "zone4", "second", "total3", "total4"):
        if draw.random() < (0.8 if source in ("ring", "zone3") else 0.35):
            mean = k + draw.uniform(-0.4, 0.4) - source.startswith("total")
            half = max(0.05, (cylinder + draw.uniform(-0.2, 0.2)) / 2)
            eye[f"{source}_flat"], eye[f"{source}_steep"] = round(mean - half, 2), round(mean + half, 2)
            eye[f"{source}_steep_axis"] = round(axis + draw.uniform(-4, 4)) % 180
    if draw.random() < 0.4:
        back = 337.5 / k * 0.82
        eye["back_flat_radius"], eye["back_steep_radius"] = round(back + 0.15, 2), round(back - 0.15, 2)
        eye |= {"back_steep_axis": round(axis) % 180, "thickness_central": round(draw.uniform(0.4, 0.55), 3)}
    return eye | {key: draw.choice(list(some)) for key, (some, chance) in SELDOM.items() if draw.random() < chance}


def past_the_root(case: dict[str, Any], eye: dict[str, Any]) -> bool:
    """A regular cornea at whose mean K SRK/T has no root."""
    k = mean_power(case, eye)[0]
    return eye["corneal_diagnosis"] == "regular" and k is not None and srkt_ratio(length_used(eye, "srkt"), k) > 2


@pytest.mark.parametrize("seed", [11])
def test_drawn_eyes_get_one_lens(seed: int, model: Model) -> None:
    """Mean K, exact power, power in steps, cylinder and axis of the marks: both have them, or neither."""
    draw = random.Random(seed)
    plans = [{"file_number": "DEMO"} | ({"total_offset": 0.5} if draw.random() < 0.3 else {}) for _ in range(DRAWN)]
    cases = [{"plan": plan} | {eye: drawn_eye(draw) for eye in EYES} for plan in plans]
    values = evaluate_cases(model, [typed_cells(model, case) for case in cases])
    wrong, judged, with_axis = [], 0, 0
    for number, case in enumerate(cases):
        for at, side in enumerate(EYES):
            eye, mine = case[side], opinion(case, side)
            if past_the_root(case, eye):
                continue
            seen = {key: float(values.get("eyes", row)[number, at]) for key, row in ROWS.items()}
            if mine.cylinder is None:
                del seen["cylinder"]  # a lens without cylinders
            apart = [key for key, value in seen.items() if not _alike(getattr(mine, key), value)]
            axis = float(values.get("eyes", "marks_axis")[number, at])
            if mine.axis is not None:
                with_axis += 1
                apart += ["axis"] if not abs((axis - mine.axis + 90) % 180 - 90) < 2e-6 else []
            elif mine.cylinder is not None and axis == axis:
                apart.append("axis")
            judged += mine.power is not None
            wrong += [f"{apart}: {mine}, workbook {seen} {axis}: {eye}"] if apart else []
    assert not wrong, "\n".join(wrong[:5])
    assert judged > DRAWN and with_axis > DRAWN / 2


def _alike(mine: float | None, seen: float) -> bool:
    return seen != seen if mine is None else abs(mine - seen) < 2e-6
