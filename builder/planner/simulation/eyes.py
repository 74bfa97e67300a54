"""Invented patients before surgery: what a clinic would type into the planning workbook."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Any

from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.eyes import EYES
from builder.planner.reference.keratometry import radius_of_k
from builder.planner.simulation.population import Draws, Group, Population

Eye = dict[str, Any]
Case = dict[str, dict[str, Any]]
CONES = ("keratoconus", "pellucid", "ectasia_after_laser")
LASER = ("after_myopic_laser", "ectasia_after_laser")
MARK = "DEMO-S"  # every file number begins so


def cases(population: Population, draws: Draws, words: Words) -> Iterator[Case]:
    """One case a person, in the order of their dates; every second person has both eyes done."""
    groups = draws.shuffled([group for group in population.groups for _ in range(group.persons)])
    for number, group in enumerate(groups):
        date = population.first_date + datetime.timedelta(days=number * population.days_between)
        case: Case = {
            "plan": {
                "file_number": f"{MARK}-{number + 1:03d}",
                "date": date,
                "prepared_by": "A. Simulated",
                "checked_by": "B. Simulated",
            }
        }
        length = draws.figure("length_after_myopia" if group.diagnosis in (*LASER, "radial_cuts") else "length")
        mean_k = draws.normal(group.mean_k, group.sd_k)
        for side in EYES if number % 2 else EYES[number // 2 % 2 :][:1]:
            case[side] = eye(group, draws, words, side, length + draws.normal(0, 0.15), mean_k + draws.normal(0, 0.5))
        yield case


def eye(group: Group, draws: Draws, words: Words, side: str, length: float, mean_k: float) -> Eye:
    """What is measured of one eye, and the choices. Lengths in mm, powers in D."""
    cone = group.diagnosis in CONES
    cylinder = max(0.4, draws.normal(group.cylinder, group.sd_cylinder))
    steep = 90 + draws.normal(0, 25 if group.diagnosis == "regular" else 40)
    depth = draws.figure("depth") + (0.25 if cone else 0)
    typed: Eye = {
        "corneal_diagnosis": words.get("choice", group.diagnosis),
        "contact_lens": "none",
        "spectacle_acuity_before": "doubtful" if cone and mean_k > 50 else "useful",
        "rigid_lens_afterwards": "no",
        "more_surgery_expected": "no",
        "axial_length": round(length, 2),
        "axial_length_method": "optical",
        "acd": round(min(max(depth, 2.3), 4.4), 2),
        "white_to_white": round(draws.normal(11.8, 0.35), 1),
        "biometry_age_months": 1,
    }
    if cone:
        typed["months_stable"] = 24 + 12 * int(3 * draws.generator.random())
    if group.diagnosis == "graft":
        typed["graft_sutures_out"] = "yes"
    typed |= _keratometry(draws, group, mean_k, cylinder, steep)
    typed |= _refraction(draws, length, mean_k, cylinder, steep)
    typed |= {
        "goal": -0.25 if not cone else -0.75 if mean_k < CONSTANTS.goal_band_low else -1.5,
        "lens": words.get("word", _lens(group, draws, cylinder, mean_k, length)),
        "incision_meridian": round((180 if side == "right" else 0) + draws.normal(0, 6)) % 360,
        "incision_sia": 0.15,
        "incision_width": 2.4,
    }
    return typed


def _lens(group: Group, draws: Draws, cylinder: float, mean_k: float, length: float) -> str:
    """The lens by its reach: one goes to strong cylinders and powers, one has none."""
    if cylinder < 0.9 or group.diagnosis == "graft":
        return "lens_example3"
    usual = 41 < mean_k < 54 and 22 < length < 26 and cylinder < 3.5
    return "lens_example2" if usual and draws.happens(1.6) else "lens_example1"


def _keratometry(draws: Draws, group: Group, mean_k: float, cylinder: float, steep: float) -> Eye:
    """Ring, 3 mm zone and back surface: steeper in a cone, and as it was before a laser flattened the front."""
    cone = group.diagnosis in CONES
    typed: Eye = {}
    for key, gap in (("ring", 0.0), ("zone3", draws.figure("device_gap"))):
        axis = steep + draws.normal(0, 3 if cone else 2)
        size = max(0.2, cylinder + draws.normal(0, 0.15))
        typed |= {
            f"{key}_flat": round(mean_k + gap - size / 2, 2),
            f"{key}_flat_axis": _axis(axis + 90),
            f"{key}_steep": round(mean_k + gap + size / 2, 2),
            f"{key}_steep_axis": _axis(axis),
        }
    share = draws.figure("back_to_front_radius_cone" if cone else "back_to_front_radius")
    removed = draws.figure("laser_flattening") if group.diagnosis in LASER else 0.0
    flat, sharp = (float(radius_of_k(typed[f"zone3_{end}"] + removed)) * share for end in ("flat", "steep"))
    return typed | {
        "back_flat_radius": round(flat, 2),
        "back_steep_radius": round(min(sharp, flat - 0.02), 2),
        "back_steep_axis": _axis(steep + draws.normal(0, 5 if cone else 12)),
        "thickness_central": round(draws.normal(0.46 if cone else 0.54, 0.03), 3),
    }


def _refraction(draws: Draws, length: float, mean_k: float, cylinder: float, steep: float) -> Eye:
    """A cataract's refraction: longer and steeper eyes are more myopic, and the cornea gives most of the cylinder."""
    mean = -2.4 * (length - 23.65) - 0.8 * (mean_k - 43.81) + draws.normal(-0.5, 1.0)
    power = quarter(-max(0.0, 0.9 * cylinder + draws.normal(0, 0.4)))
    return {
        "refraction_sphere": quarter(min(max(mean - power / 2, -20), 12)),
        "refraction_cylinder": power,
        "refraction_axis": _axis(5 * round((steep + 90 + draws.normal(0, 7)) / 5)),
        "refraction_vertex": 12,
    }


def quarter(power: float) -> float:
    """A refraction as it is written: in steps of 0.25 D."""
    return round(4 * power) / 4 + 0.0


def _axis(axis: float) -> int:
    return round(axis) % 180 or 180
