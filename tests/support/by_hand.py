"""The examples of the sheet of proof worked once more, from equations written out here and nothing of the builder.

Equations from memory (clinical-basis section 4): retzlaff1990, holladay1988, hoffer1993, haigis2000, sheard2010;
shammas2003, shammas2013, haigis2008, wang2004; abulafia2016.
Lengths in mm, powers in D, n = 1.336, spectacles at 12 mm.
"""

from __future__ import annotations

import math


def tan(degrees: float) -> float:
    """Tangent of degrees."""
    return math.tan(math.radians(degrees))


def cap(radius: float, width: float) -> float:
    """Height of a dome over a chord."""
    return radius - math.sqrt(radius**2 - width**2 / 4)


def light(cornea: float, length: float, position: float, goal: float, lens: float) -> dict[str, float]:
    """From the retina: vergence needed, powers for plano and for the goal, and what a lens leaves."""
    at_cornea = goal / (1 - 0.012 * goal)
    needed = 1336 / (length - position)
    left = needed - lens
    refraction = 1336 * left / (1336 + position * left) - cornea
    return {
        "cornea_for_vergence": cornea,
        "optical_length": length,
        "vergence_needed": needed,
        "goal_at_cornea": at_cornea,
        "plano_power": needed - 1336 / (1336 / cornea - position),
        "goal_power": needed - 1336 / (1336 / (cornea + at_cornea) - position),
        "refraction_at_cornea": refraction,
        "refraction_predicted": refraction / (1 + 0.012 * refraction),
    }


def srkt_position(length: float, k: float, a_constant: float) -> dict[str, float]:
    """SRK/T: corrected length, corneal width, dome and position."""
    corrected = length if length <= 24.2 else -3.446 + 1.716 * length - 0.0237 * length**2
    width, radius = -5.41 + 0.58412 * corrected + 0.098 * k, 337.5 / k
    found = {"srkt_corrected_length": corrected, "srkt_width": width, "srkt_width_ratio": width / radius}
    if width <= 2 * radius:
        found["srkt_dome_height"] = cap(radius, width)
        found["srkt_raw_position"] = cap(radius, width) + 0.62467 * a_constant - 68.747 - 3.336
    return found


def holladay_position(length: float, k: float, surgeon_factor: float) -> dict[str, float]:
    """Holladay 1: dome radius, chamber width and position."""
    radius, width = max(337.5 / k, 7), min(12.5 * length / 23.45, 13.5)
    return {
        "holladay_dome_radius": radius,
        "holladay_chamber": width,
        "holladay_raw_position": 0.56 + cap(radius, width) + surgeon_factor,
    }


def hoffer_position(length: float, k: float, pacd: float) -> dict[str, float]:
    """Hoffer Q: length used, sign, turn, both terms and position."""
    used = min(max(length, 18.5), 31)
    sign, turn = (1, 28) if used <= 23 else (-1, 23.5)
    bend = 0.1 * sign * (23.5 - used) ** 2 * tan(0.1 * (turn - used) ** 2)
    return {
        "hoffer_length": used,
        "hoffer_sign": sign,
        "hoffer_turn": turn,
        "hoffer_cornea_term": tan(k) ** 2,
        "hoffer_length_term": bend,
        "hoffer_raw_position": 0.05 + pacd + 0.3 * (used - 23.5) + tan(k) ** 2 + bend - 0.99166,
    }


def t2_position(length: float, k: float, a_constant: float) -> dict[str, float]:
    """T2: corneal height by the regression, and position."""
    height = -10.326 + 0.32630 * length + 0.13533 * k
    return {"t2_height": height, "t2_raw_position": height + 0.62467 * a_constant - 68.747 - 3.336}


def side_by_side() -> dict[str, dict[str, float]]:
    """An eye for each formula, every step; eyes and lens are invented."""
    srkt = srkt_position(24.30, 46.00, 118.27)
    holladay = holladay_position(26.20, 49.00, 1.34)
    hoffer = hoffer_position(21.50, 44.00, 5.09)
    haigis = {"haigis_raw_position": 0.97 + 0.4 * 3.11 + 0.1 * 22.73}
    length = 24.30 + 0.65696 - 0.02029 * 24.30
    t2 = t2_position(24.50, 48.00, 118.27)
    t2_length = 24.50 + 0.65696 - 0.02029 * 24.50
    return {
        "srkt": srkt | light(333 * 46 / 337.5, length, srkt["srkt_raw_position"], -0.5, 19.0),
        "holladay1": holladay | light(1000 / 3 * 38 / 337.5, 26.4, holladay["holladay_raw_position"], -1.0, 22.0),
        "hofferq": hoffer | light(44.0, 21.50, hoffer["hoffer_raw_position"], 0.25, 26.0),
        "haigis": haigis | light(331.5 * 47.215 / 337.5, 22.73, haigis["haigis_raw_position"], -0.75, 19.5),
        "t2": t2 | light(333 * 48 / 337.5, t2_length, t2["t2_raw_position"], -0.5, 13.0),
    }


def positions() -> dict[str, dict[str, float]]:
    """Eyes at the limits of the formulas."""
    eyes = {
        "shortest": (18.00, 44.00),
        "turning": (23.10, 44.00),
        "longest": (32.00, 44.00),
        "rootless": (23.50, 50.80),
    }
    return {
        key: srkt_position(length, k, 118.27) | holladay_position(length, k, 1.34) | hoffer_position(length, k, 5.09)
        for key, (length, k) in eyes.items()
    }


def other() -> dict[str, dict[str, float]]:
    """Adjusted lengths, lens constants, the normal cornea, corneas after laser, the population's back surface."""
    front, back = 376 / 7.77, -40 / 6.40
    normal = front + back - 0.0005 / 1.376 * front * back
    k = 337.5 / 8.73
    worn_before, worn_after = -9.50 / (1 + 0.012 * 9.50), 0.25 / (1 - 0.012 * 0.25)
    return {
        "long_eye": {
            "length_srkt": 0.8544 * 28 + 3.7222,
            "length_holladay1": 0.8289 * 28 + 4.2663,
            "length_hofferq": 0.8530 * 28 + 3.5794,
            "length_haigis": 0.9286 * 28 + 1.562,
        },
        "average_lens": {"lens_haigis_a0": 0.62467 * 118.5 - 72.434},
        "normal": {"normal_gaussian_power": normal, "keratometric_share": 337.5 / (normal * 7.77)},
        "shammas_myopic": {"method_power": 1.14 * 337.5 / 6.99 - 6.8},
        "shammas_hyperopic": {"method_power": 1.0457 * 337.5 / 7.86 - 1.9538},
        "haigis_myopic": {"haigis_radius_term": -5.1625 * 337.5 / k + 82.2603 - 0.35},
        "wang": {"method_power": 1.114 * 337.5 / 6.34 - 6.1},
        "history": {"method_power": 42 - (worn_after - worn_before)},
        "against_the_rule": {"regression_x": 0.508 - 0.926, "regression_y": -0.009 + 0.932 * math.sqrt(3)},
    }


def discs() -> dict[str, dict[str, float]]:
    """Mean over a disc: the integral of F 2 r dr / R^2 over straight lines between rings 0.5 mm apart."""
    powers = [51.0, 48.0, 46.5, 44.0, 42.0]

    def mean(rings: int) -> float:
        total = 0.0
        for n in range(rings):
            inner, outer = 0.5 * n, 0.5 * (n + 1)
            slope = (powers[n + 1] - powers[n]) / 0.5
            start = powers[n] - slope * inner  # F = start + slope r
            total += start * (outer**2 - inner**2) + slope * 2 / 3 * (outer**3 - inner**3)
        return total / (0.5 * rings) ** 2

    return {"falling_map": {"disc3_mean": mean(3), "disc4_mean": mean(4)}}
