"""A plan worked once more, from the published equations and the rules of the clinical basis, as plain scalar code.

It knows neither the cells nor the reference: what a case file expects in `[expect.right]` was worked here before it was
compared with the workbook. Inputs that a workbook would refuse are not its business: here the cornea, the lens in
`second_opinion_lens`. One slip was found by comparing, 0.2 mm of Holladay 1's length, and mended from the paper.

retzlaff1990 (SRK/T), sheard2010 (T2), holladay1988, hoffer1993, haigis2000: from memory, long-standing; wang2011 for
long eyes; shammas2003, shammas2013, haigis2008, wang2004 after laser; abulafia2016 for the back of a regular cornea.
Lengths in mm, powers in D, axes in degrees.
"""

from __future__ import annotations

from typing import Any, NamedTuple

Eye = dict[str, Any]
POPULATION = 43.86  # D, holladay2003
# Wang and Koch's regressions of the length, by formula: slope, offset
REGRESSED = {
    "srkt": (0.8544, 3.7222),
    "t2": (0.8544, 3.7222),
    "holladay1": (0.8289, 4.2663),
    "haigis": (0.9286, 1.562),
    "hofferq": (0.8530, 3.5794),
}
NUMERATOR = {"srkt": 333.0, "t2": 333.0, "holladay1": 1000 / 3, "hofferq": 337.5, "haigis": 331.5}
NAMED = {"SRK/T": "srkt", "T2": "t2", "Holladay 1": "holladay1", "Hoffer Q": "hofferq", "Haigis": "haigis"}
ORDER = ("ring", "zone3", "zone4", "second", "map3", "map4", "back", "total3", "total4")
LASER = ("after myopic laser", "after hyperopic laser")
RESHAPED = (*LASER, "ectasia after laser", "radial cuts")
# The four invented lenses of the workbook
EXAMPLES: dict[str, dict[str, Any]] = {
    "example heron": {
        **{"kind": "toric", "a_constant": 118.27, "surgeon_factor": 1.34, "hoffer_pacd": 5.09, "haigis_a0": 0.97},
        **{"haigis_a1": 0.37, "haigis_a2": 0.11, "power_from": 1, "power_to": 31, "power_step": 0.5},
        "cylinders": [1.3, 2.0, 2.7, 3.4, 4.1, 4.8, 5.5, 6.2, 6.9, 7.6, 8.3, 9.0],
    },
    "example wren": {
        **{"kind": "toric", "a_constant": 119.36, "haigis_a0": 1.68, "power_from": 3, "power_to": 29},
        **{"power_step": 0.5, "cylinders": [1.1, 2.0, 2.9, 3.8, 4.7, 5.6]},
    },
    "example plover": {
        **{"kind": "spherical", "a_constant": 117.94, "power_from": -8, "power_to": 37, "power_step": 0.5},
    },
    "example curlew": {
        **{"kind": "three-piece", "a_constant": 117.58, "power_from": -7, "power_to": 33, "power_step": 0.5},
    },
}


class Opinion(NamedTuple):
    """What this reading of the basis gives; None where it gives nothing."""

    mean_k: float | None
    k_source: str
    lead: str
    exact: float | None
    power: float | None
    cylinder: float | None
    axis: float | None
    cornea: tuple[float, float] | None  # what the lens has to correct, incision included: dioptres, steep meridian
    source: str


def word(eye: Eye, key: str) -> str:
    """A choice as it is meant, whatever its letters and gaps."""
    return " ".join(str(eye.get(key, "")).split()).casefold()


def lens_of(case: dict[str, Any], eye: Eye) -> dict[str, Any] | None:
    """The chosen lens: one of the clinic's or an example."""
    own = {" ".join(str(lens.get("name", "")).split()).casefold(): lens for lens in case.get("lens", [])}
    return {**own, **EXAMPLES}.get(word(eye, "lens"))


def dioptres(eye: Eye, reading: float, own_index: float | None) -> float:
    """A reading as a power of 1.3375."""
    return 337.5 / reading if word(eye, "keratometry_unit") == "mm" else reading * 0.3375 / ((own_index or 1.3375) - 1)


def pair(eye: Eye, source: str) -> tuple[float, float] | None:
    """Flat and steep of a source of keratometry."""
    flat, steep = eye.get(f"{source}_flat"), eye.get(f"{source}_steep")
    if not isinstance(flat, (int, float)) or not isinstance(steep, (int, float)):
        return None
    if source.startswith("total"):
        return flat, steep
    index = eye.get("second_index" if source == "second" else "keratometer_index")
    return dioptres(eye, flat, index), dioptres(eye, steep, index)


def normal_cornea() -> tuple[float, float]:
    """Thick-lens power of the normal cornea, and the index with which keratometry would read it."""
    front, back = 376 / 7.77, -40 / 6.40
    power = front + back - 0.0005 / 1.376 * front * back
    return power, power * 7.77 / 1000


def candidates(case: dict[str, Any], eye: Eye) -> dict[str, float]:
    """Every value for the mean K, each where its readings are; a total only with the clinic's offset."""
    found: dict[str, float] = {}
    for source in ("ring", "zone3", "zone4", "second"):
        if both := pair(eye, source):
            found[source] = sum(both) / 2
    found |= {f"map{wide}": mean for wide, shares in DISCS.items() if (mean := disc(eye, shares)) is not None}
    if (back := back_corrected(eye, found)) is not None:
        found["back"] = back
    if "total_offset" in case.get("plan", {}):
        for source in ("total3", "total4"):
            if (total := total_power(case, eye, source)) is not None:
                found[source] = total
    return found


DISCS = {3: (1 / 27, 6 / 27, 12 / 27, 8 / 27), 4: (1 / 48, 6 / 48, 12 / 48, 18 / 48, 11 / 48)}


def disc(eye: Eye, shares: tuple[float, ...]) -> float | None:
    """Mean power of a map over a disc, ring by ring from the centre."""
    rings = [[eye.get("map_center")], *(eye.get(f"map_d{n}", []) for n in range(1, len(shares)))]
    values = [value for ring in rings for value in ring]
    if len(values) != 1 + 12 * (len(shares) - 1) or not all(isinstance(value, (int, float)) for value in values):
        return None
    index = eye.get("keratometer_index")
    return sum(
        s * sum(dioptres(eye, v, index) for v in ring) / len(ring) for s, ring in zip(shares, rings, strict=True)
    )


def back_corrected(eye: Eye, found: dict[str, float]) -> float | None:
    """K that a cornea with this back would need to have, had it a normal one."""
    front, radii = found.get("zone3", found.get("ring")), [eye.get("back_flat_radius"), eye.get("back_steep_radius")]
    if front is None or any(not isinstance(radius, (int, float)) for radius in radii):
        return None
    f1, f2 = 376 / (337.5 / front), -40 / (sum(radii) / 2)
    power = f1 + f2 - eye.get("thickness_central", 0.50) / 1000 / 1.376 * f1 * f2
    return power * 0.3375 / normal_cornea()[1]


def total_power(case: dict[str, Any], eye: Eye, source: str) -> float | None:
    """The device's total power on the scale of K, less the clinic's offset."""
    if (both := pair(eye, source)) is None:
        return None
    return sum(both) / 2 * 0.3375 / normal_cornea()[1] - case.get("plan", {}).get("total_offset", 0)


def without_history(diagnosis: str, k: float) -> list[float]:
    """The valid values after laser that need no history."""
    if diagnosis not in LASER:
        return []
    if diagnosis == "after hyperopic laser":
        return [1.0457 * k - 1.9538] if k > 42.75 else []
    values = [1.14 * k - 6.8] if k < 48.57 else []
    if 34 <= k <= 48.5:
        values.append(337.5 / (331.5 / (-5.1625 * 337.5 / k + 82.2603 - 0.35)))
    return values + ([1.114 * k - 6.1] if k < 53.5 else [])


def mean_power(case: dict[str, Any], eye: Eye) -> tuple[float | None, str]:
    """The mean K used, and where it is from."""
    diagnosis, found = word(eye, "corneal_diagnosis"), candidates(case, eye)
    rule = word(eye, "k_rule") or ("after laser" if diagnosis in LASER else "lowest")
    totals = [(t, n) for n in ("total3", "total4") if (t := total_power(case, eye, n)) is not None]
    if rule == "typed":
        return eye.get("typed_k"), "typed"
    if rule == "ring":
        return found.get("ring"), "ring"
    if rule == "mean of zones":
        zones = [found.get("zone3"), found.get("zone4")]
        return (None, rule) if None in zones else (sum(z for z in zones if z) / 2, rule)
    if rule == "total":
        return totals[0] if totals else (found.get("back"), "back")
    if rule == "after laser":
        if "back" in found:
            return found["back"], "back"
        if totals:
            return totals[0]
        plain = found.get("zone3", found.get("ring"))
        values = sorted(without_history(diagnosis, plain)) if plain else []
        half = len(values) // 2
        return (None, rule) if not values else ((values[half] + values[-half - 1]) / 2, "the middle without history")
    lowest = min((n for n in ORDER if n in found), key=lambda n: round(found[n], 9), default="")
    return found.get(lowest), lowest
