"""The lens of a second opinion: formulas, position, power step by step, cylinder and axis. See `second_opinion`."""

from __future__ import annotations

import math
from typing import Any

from tests.support.second_opinion import (
    NAMED,
    NUMERATOR,
    POPULATION,
    REGRESSED,
    RESHAPED,
    Eye,
    Opinion,
    lens_of,
    mean_power,
    pair,
    word,
)


def length_used(eye: Eye, formula: str) -> float:
    """Long eyes measured optically: the regression comes in over the millimetre above 25."""
    length = float(eye["axial_length"])
    rule = word(eye, "length_rule") or ("adjusted" if word(eye, "axial_length_method") in ("", "optical") else "")
    if rule != "adjusted" or length <= 25:
        return length
    slope, offset = REGRESSED[formula]
    return min(length, length + min(1.0, length - 25) * (slope * length + offset - length))


def srkt_ratio(length: float, k: float) -> float:
    """SRK/T's corneal width as a share of the radius: past 2 it has no root."""
    corrected = length if length <= 24.2 else -3.446 + 1.716 * length - 0.0237 * length**2
    return (-5.41 + 0.58412 * corrected + 0.098 * k) / (337.5 / k)


def lens_place(formula: str, eye: Eye, lens: dict[str, Any], k: float) -> float | None:
    """Where a formula puts the lens behind the cornea; None where it cannot say."""
    length, a, r = length_used(eye, formula), lens["a_constant"], 337.5 / k
    base = 0.62467 * a - 68.747 - 3.336
    if formula == "srkt":
        ratio = srkt_ratio(length, k)
        return None if ratio > 2 else r - math.sqrt(r**2 - (ratio * r) ** 2 / 4) + base
    if formula == "t2":
        return -10.326 + 0.32630 * length + 0.13533 * k + base
    if formula == "holladay1":
        dome, chord = max(r, 7), min(12.5 * length / 23.45, 13.5)
        factor = lens.get("surgeon_factor", 0.5663 * a - 65.60)
        return float(0.56 + dome - math.sqrt(dome**2 - chord**2 / 4) + factor)
    if formula == "hofferq":
        within = min(max(length, 18.5), 31)
        sign, turn = (1, 28) if within <= 23 else (-1, 23.5)
        bent = 0.1 * sign * (23.5 - within) ** 2 * math.tan(math.radians(0.1 * (turn - within) ** 2))
        depth = lens.get("hoffer_pacd", 0.58357 * a - 63.896)
        return float(0.05 + depth + 0.3 * (within - 23.5) + math.tan(math.radians(k)) ** 2 + bent - 0.99166)
    if "acd" not in eye:
        return None
    a0 = lens.get("haigis_a0", 0.62467 * a - 72.434)
    return float(a0 + lens.get("haigis_a1", 0.4) * eye["acd"] + lens.get("haigis_a2", 0.1) * length)


def optics(formula: str, eye: Eye, lens: dict[str, Any], mean_k: float, k: float) -> tuple[float, float, float] | None:
    """Kc, optical length and position; None where the formula has no result."""
    place, length = lens_place(formula, eye, lens, k), length_used(eye, formula)
    if formula in ("srkt", "t2"):
        length += 0.65696 - 0.02029 * length
    elif formula == "holladay1":
        length += 0.2
    if place is None or not 2 <= place <= 10 or length <= place:
        return None
    return NUMERATOR[formula] * mean_k / 337.5, length, place


def power_for(goal: float, cornea: float, length: float, place: float) -> float | None:
    """The lens that gives a refraction at 12 mm."""
    front = cornea + goal / (1 - 0.012 * goal)
    return None if 1336 / front <= place else 1336 / (length - place) - 1336 / (1336 / front - place)


def position_k(eye: Eye, mean_k: float) -> float | None:
    """The K that places the lens."""
    rule = word(eye, "position_k_rule")
    if rule:
        return {"same": mean_k, "population": POPULATION}.get(rule, eye.get("before_laser_k"))
    if word(eye, "corneal_diagnosis") in RESHAPED:
        return float(eye.get("before_laser_k", POPULATION))
    return POPULATION if srkt_ratio(length_used(eye, "srkt"), mean_k) > 2 else mean_k


def lead(eye: Eye, lens: dict[str, Any], mean_k: float, k: float) -> tuple[str, float | None]:
    """The formula that leads, and the power it asks for."""
    goal = float(eye["goal"])

    def asks(formula: str) -> float | None:
        known = optics(formula, eye, lens, mean_k, k)
        return None if known is None else power_for(goal, *known)

    chosen, diagnosis = eye.get("lead_formula", ""), word(eye, "corneal_diagnosis")
    if chosen in NAMED:
        return NAMED[chosen], asks(NAMED[chosen])
    if chosen != "safe side" and diagnosis in RESHAPED:
        formula = "haigis" if "acd" in eye else "holladay1"
        return formula, asks(formula)
    if chosen != "safe side" and diagnosis == "regular":
        formula = "t2" if srkt_ratio(length_used(eye, "srkt"), k) > 1.75 else "srkt"
        return formula, asks(formula)
    three = {f: p for f in ("t2", "holladay1", "haigis") if (f != "t2" or k <= 52) and (p := asks(f)) is not None}
    strongest = max(three, key=lambda f: three[f], default="")
    return strongest, three.get(strongest)


def step_up(exact: float, lens: dict[str, Any], nearest: bool) -> float | None:
    """The step of the lens's ladder, on the myopic side unless the nearest is asked for."""
    steps = (exact - lens["power_from"]) / lens["power_step"]
    last = (lens["power_to"] - lens["power_from"]) / lens["power_step"]
    if not -1e-9 <= steps <= last + 1e-9:
        return None
    return float(
        lens["power_from"] + lens["power_step"] * (math.floor(steps + 0.5) if nearest else math.ceil(steps - 1e-9))
    )


def turned(size: float, axis: float) -> tuple[float, float]:
    """A cylinder as a vector of the double angle."""
    return size * math.cos(math.radians(2 * axis)), size * math.sin(math.radians(2 * axis))


def to_correct(eye: Eye) -> tuple[tuple[float, float] | None, str]:
    """The astigmatism before the incision, and its source."""
    fronts: dict[str, tuple[float, float]] = {}
    for name in ("zone3", "ring", "total3"):
        if (both := pair(eye, name)) and f"{name}_steep_axis" in eye:
            fronts[name] = turned(both[1] - both[0], eye[f"{name}_steep_axis"])
    front = fronts.get("zone3", fronts.get("ring"))
    backs = [eye.get(f"back_{part}") for part in ("flat_radius", "steep_radius", "steep_axis")]
    if front and None not in backs:
        x, y = turned(40 / backs[1] - 40 / backs[0], backs[2])
        fronts["front and back"] = (376 / 337.5 * front[0] - x, 376 / 337.5 * front[1] - y)
    if front and word(eye, "corneal_diagnosis") == "regular":
        fronts["regression"] = (0.508 + 0.926 * front[0], -0.009 + 0.932 * front[1])
    typed = word(eye, "astigmatism_source")
    order = [typed] if typed else ["total3", "front and back", "regression", "zone3", "ring"]
    source = next((name for name in order if name in fronts), "")
    return fronts.get(source), source


def effect(cylinder: float, power: float, length: float, place: float) -> tuple[float, float]:
    """A toric lens at the cornea: half its cylinder there, and the mean vergence."""
    before = 1336 / (length - place) - power
    strong, weak = (1336 * v / (1336 + place * v) for v in (before + cylinder / 2, before - cylinder / 2))
    return (strong - weak) / 2, (strong + weak) / 2


def left_over(cylinder: float, size: float, power: float, known: tuple[float, float, float]) -> float:
    """The cylinder left in spectacles with the marks on the steep meridian."""
    half, mean = effect(cylinder, power, known[1], known[2])
    ends = [mean - known[0] + sign * (half - size / 2) for sign in (1, -1)]
    first, last = (end / (1 + 0.012 * end) for end in ends)
    return abs(first - last)


def opinion(case: dict[str, Any], side: str) -> Opinion:
    """The lens for one eye of a case file."""
    eye, lens = case.get(side, {}), lens_of(case, case.get(side, {}))
    mean_k, k_source = mean_power(case, eye)
    nothing = Opinion(mean_k, k_source, "", None, None, None, None, None, "")
    if mean_k is None or lens is None or not {"axial_length", "goal", "corneal_diagnosis"} <= set(eye):
        return nothing
    k = position_k(eye, mean_k)
    if k is None or not {"kind", "a_constant", "power_from", "power_to", "power_step"} <= set(lens):
        return nothing
    formula, exact = lead(eye, lens, mean_k, k)
    if exact is None:
        return nothing._replace(lead=formula)
    power = step_up(exact, lens, word(eye, "step_rule") == "nearest")
    found = nothing._replace(lead=formula, exact=exact, power=power)
    known, (vector, source) = optics(formula, eye, lens, mean_k, k), to_correct(eye)
    if power is None or known is None or lens["kind"] != "toric" or vector is None or "incision_meridian" not in eye:
        return found
    x, y = turned(eye.get("incision_sia", 0.10), eye["incision_meridian"])
    size, angle = math.hypot(vector[0] - x, vector[1] - y), math.atan2(vector[1] - y, vector[0] - x)
    steep = math.degrees(angle) / 2 % 180 or 180.0
    offered = sorted({0.0, *lens.get("cylinders", [])})
    if word(eye, "cylinder_rule") == "smallest residual":
        cylinder = min(offered, key=lambda c: (round(left_over(c, size, power, known), 9), c))
    else:
        cylinder = max(c for c in offered if 2 * effect(c, power, known[1], known[2])[0] <= size)
    axis = steep if cylinder and size >= 0.01 else None
    return found._replace(cylinder=cylinder, axis=axis, cornea=(size, steep), source=source)
