"""The slips: each takes a right case and the eye to spoil, and returns the spoilt case, or None where it cannot happen.

"first" spoils the first entry alone, "both" also what the second person types, as when both read the same wrong line.
Which slips there are is common practice and our own imagination, no source.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

from tests.slips.right import Case

Spoil = Callable[[Case, str], Case | None]
AGAIN = {
    "axial_length": "again_axial_length",
    "acd": "again_acd",
    "goal": "again_goal",
    "lens": "again_lens",
    "incision_meridian": "again_incision_meridian",
    "back_flat_radius": "again_back_flat_radius",
    "back_steep_radius": "again_back_steep_radius",
}
SOURCES = ("ring", "zone3")
READINGS = ("axial_length", "acd", *(f"{s}_{end}" for s in SOURCES for end in ("flat", "steep")))
AXES = ("ring", "zone3", "back")
CATALOGUE: dict[str, Spoil] = {}
AFTER_CHECK = "after the check: "


def other(eye: str) -> str:
    """The fellow's name."""
    return "left" if eye == "right" else "right"


def write(case: Case, eye: str, values: dict[str, Any], both: bool) -> Case | None:
    """The case with other entries; with `both` the second person typed what she saw there, the radius included."""
    spoilt, typed = copy.deepcopy(case), case[eye]
    if all(typed.get(key) == value for key, value in values.items()):
        return None
    spoilt[eye] |= values
    if both:
        for key, value in values.items():
            if AGAIN.get(key) in typed:
                spoilt[eye][AGAIN[key]] = value
            for source, entry in _typed_again(typed, key):
                if source:
                    spoilt[eye][entry] = value
    return spoilt


def _typed_again(eye: dict[str, Any], key: str) -> list[tuple[bool, str]]:
    """Where a reading of ring or zone stands a second time: wherever the same figure was typed again."""
    source, _, end = key.partition("_")
    if source not in SOURCES:
        return []
    names = {"flat": ("again_flat", "again_k_flat"), "steep": ("again_steep", "again_k_steep")}
    names["steep_axis"] = ("again_steep_axis",)
    return [(eye.get(entry) == eye.get(key), entry) for entry in names.get(end, ())]


def turned(number: float, first: int) -> float:
    """A number with two neighbouring digits turned, counted from the left."""
    digits = [letter for letter in f"{number:.2f}"]
    at = [n for n, letter in enumerate(digits) if letter.isdigit()]
    if first + 1 >= len(at):
        return number
    digits[at[first]], digits[at[first + 1]] = digits[at[first + 1]], digits[at[first]]
    return float("".join(digits))


def add(name: str, spoil: Spoil) -> None:
    """Enters a slip under a name of its own."""
    assert name not in CATALOGUE, name
    CATALOGUE[name] = spoil


def entries(name: str, change: Callable[[dict[str, Any], dict[str, Any]], dict[str, Any] | None]) -> None:
    """Enters a slip twice: in the first entry, and in both. `change` sees the eye and its fellow ({} without one)."""
    for both in (False, True):

        def spoil(case: Case, eye: str, both: bool = both) -> Case | None:
            values = change(case[eye], case.get(other(eye), {}))
            return write(case, eye, values, both) if values else None

        add(f"{name}, {'both entries' if both else 'first entry'}", spoil)


def _of_fellow(*keys: str) -> Callable[[dict[str, Any], dict[str, Any]], dict[str, Any] | None]:
    return lambda eye, fellow: {key: fellow[key] for key in keys if key in fellow and key in eye} or None


def _turned(key: str, first: int) -> Callable[[dict[str, Any], dict[str, Any]], dict[str, Any] | None]:
    return lambda eye, fellow: {key: turned(eye[key], first)} if key in eye else None


def _plus(key: str, by: float) -> Callable[[dict[str, Any], dict[str, Any]], dict[str, Any] | None]:
    return lambda eye, fellow: {key: round(eye[key] + by, 2)} if key in eye else None


def _crossed(*sources: str) -> Callable[[dict[str, Any], dict[str, Any]], dict[str, Any] | None]:
    """The flat axis typed as the steep one, and the other way round."""

    def change(eye: dict[str, Any], fellow: dict[str, Any]) -> dict[str, Any] | None:
        found: dict[str, Any] = {}
        for source in sources:
            steep = eye.get(f"{source}_steep_axis")
            if steep is None:
                return None
            found[f"{source}_steep_axis"] = (steep + 90) % 180
            if f"{source}_flat_axis" in eye:
                found[f"{source}_flat_axis"] = steep
        return found

    return change


def fill_catalogue() -> None:
    """Every slip of one entry or of both."""
    entries("the fellow's length", _of_fellow("axial_length"))
    entries("the fellow's length and depth", _of_fellow("axial_length", "acd"))
    entries("the fellow's ring", _of_fellow("ring_flat", "ring_steep", "ring_steep_axis", "ring_flat_axis"))
    entries("the fellow's readings, all", _of_fellow(*READINGS, *(f"{s}_{e}_axis" for s in SOURCES for e in ENDS)))
    entries("the fellow's back", _of_fellow("back_flat_radius", "back_steep_radius", "back_steep_axis"))
    entries("the fellow's goal", _of_fellow("goal"))
    entries("the fellow's incision", _of_fellow("incision_meridian"))
    for first, which in ((0, "tens and units"), (1, "units and tenths"), (2, "tenths and hundredths")):
        for key in ("axial_length", "ring_flat", "zone3_flat", "zone3_steep"):
            entries(f"digits of {key} turned, {which}", _turned(key, first))
    entries("digits of acd turned", _turned("acd", 0))
    entries("digits of back_flat_radius turned", _turned("back_flat_radius", 0))
    entries("length one millimetre more", _plus("axial_length", 1.0))
    entries("length one millimetre less", _plus("axial_length", -1.0))
    entries("zone 3 steep ten dioptres more", _plus("zone3_steep", 10.0))
    entries("depth from the endothelium", _plus("acd", -0.55))
    entries("lens thickness typed as depth", lambda eye, fellow: {"acd": 4.5})
    entries("axes exchanged, ring", _crossed("ring"))
    entries("axes exchanged, zone 3", _crossed("zone3"))
    entries("axes exchanged, ring and zone 3", _crossed("ring", "zone3"))
    entries("axes exchanged, back", _crossed("back"))
    entries("axes exchanged, every source", _crossed(*AXES))
    entries("goal with the other sign", lambda eye, fellow: {"goal": -eye["goal"]})
    entries("goal ten times", lambda eye, fellow: {"goal": max(-10.0, 10 * eye["goal"])})
    entries("goal a quarter for a half", lambda eye, fellow: {"goal": 2 * eye["goal"]})
    entries(
        "incision a quarter round", lambda eye, fellow: {"incision_meridian": (eye["incision_meridian"] + 90) % 360}
    )
    entries(
        "a spherical lens for a toric one",
        lambda eye, fellow: {"lens": "Clinic C"} if eye["lens"] != "Clinic C" else None,
    )
    entries("the other toric lens", lambda eye, fellow: {"lens": OTHER[eye["lens"]]} if eye["lens"] in OTHER else None)
    entries("zone 3 readings one row too low", lambda eye, fellow: {"zone3_flat": eye["ring_steep"]})
    entries("peak typed as steep", lambda eye, fellow: _with_peak(eye))


ENDS = ("flat", "steep")
OTHER = {"Clinic A": "Clinic B", "Clinic B": "Clinic A"}


def _with_peak(eye: dict[str, Any]) -> dict[str, Any]:
    peak = round(eye["zone3_steep"] + 5.2, 2)
    return {"peak_k": peak, "zone3_steep": peak}


fill_catalogue()
