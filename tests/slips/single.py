"""Slips that nobody types twice: choices, devices, lens tables, the other eye's sheet, and changes after the check."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

from tests.slips.catalogue import AFTER_CHECK, CATALOGUE, add, other
from tests.slips.right import Case

CONES = ("keratoconus", "pellucid", "ectasia after laser")


def of_eye(name: str, change: Callable[[dict[str, Any]], dict[str, Any] | None]) -> None:
    """Enters a slip that changes entries of the eye."""

    def spoil(case: Case, eye: str) -> Case | None:
        values = change(case[eye])
        if not values or all(case[eye].get(key) == value for key, value in values.items()):
            return None
        spoilt = copy.deepcopy(case)
        spoilt[eye] |= values
        return spoilt

    add(name, spoil)


def of_lens(name: str, change: Callable[[dict[str, Any]], dict[str, Any] | None], again: bool = False) -> None:
    """Enters a slip in the lens table, of the lens that the eye is planned with; `again`: its A is typed so twice."""

    def spoil(case: Case, eye: str) -> Case | None:
        spoilt = copy.deepcopy(case)
        lens = next(lens for lens in spoilt["lens"] if lens["name"] == case[eye]["lens"])
        values = change(lens)
        if not values:
            return None
        lens |= values
        for name in ("right", "left"):
            if again and spoilt.get(name, {}).get("lens") == lens["name"] and "a_constant" in values:
                spoilt[name]["again_a_constant"] = values["a_constant"]
        return spoilt

    add(name, spoil)


def _same_sheet(case: Case, eye: str) -> Case | None:
    """The fellow's printout used for this eye too, by both persons."""
    if other(eye) not in case:
        return None
    spoilt = copy.deepcopy(case)
    own = {
        key: case[eye][key] for key in ("goal", "again_goal", "incision_meridian", "again_incision_meridian", "lens")
    }
    spoilt[eye] = copy.deepcopy(case[other(eye)]) | own
    return spoilt


def _exchanged(case: Case, eye: str) -> Case | None:
    """Right typed as left and left as right, by both persons; goal, lens and incision as they were decided."""
    if other(eye) not in case:
        return None
    spoilt, kept = copy.deepcopy(case), ("goal", "again_goal", "incision_meridian", "again_incision_meridian")
    for name in ("right", "left"):
        spoilt[name] = copy.deepcopy(case[other(name)]) | {key: case[name][key] for key in kept}
    return spoilt


def _fellow_refused(case: Case, eye: str) -> Case | None:
    """A mistake in the fellow silences the comparison, while this eye's length is the fellow's."""
    if other(eye) not in case:
        return None
    spoilt = copy.deepcopy(case)
    spoilt[eye] |= {
        "axial_length": case[other(eye)]["axial_length"],
        "again_axial_length": case[other(eye)]["axial_length"],
    }
    spoilt[other(eye)]["axial_length"] = 2.35
    return spoilt


def _another_file(case: Case, eye: str) -> Case | None:
    spoilt = copy.deepcopy(case)
    spoilt["plan"]["file_number"] = "R999"
    return spoilt


def fill_singles() -> None:
    """Every slip of this module."""
    add("the fellow's printout used for this eye too", _same_sheet)
    add("right and left exchanged", _exchanged)
    add("the fellow's length, and the fellow refused", _fellow_refused)
    add("another patient's file number", _another_file)
    for index in (1.332, 1.376, 1.3315):
        of_eye(f"index {index} for 1.3375", lambda eye, index=index: {"keratometer_index": index})  # type: ignore[misc]
    of_eye("millimetres for dioptres", lambda eye: {"keratometry_unit": "mm"})
    of_eye("incision effect ten times", lambda eye: {"incision_sia": 10 * eye["incision_sia"]})
    of_eye("incision effect 0.65 for 0.15", lambda eye: {"incision_sia": 0.65})
    of_eye("reference mark 100 degrees off", lambda eye: {"mark_meant": 0, "mark_found": 100})
    of_eye("reference mark 180 degrees off", lambda eye: {"mark_meant": 0, "mark_found": 180})
    of_eye("reference mark 20 degrees off", lambda eye: {"mark_meant": 90, "mark_found": 110})
    of_eye("laser not told", lambda eye: _diagnosed(eye, "after myopic laser", "regular"))
    of_eye("laser of the other kind", lambda eye: _diagnosed(eye, "after myopic laser", "after hyperopic laser"))
    of_eye("a cone called regular", lambda eye: {"corneal_diagnosis": "regular"} if _is(eye, *CONES) else None)
    of_eye("a regular cornea called after myopic laser", lambda eye: _diagnosed(eye, "regular", "after myopic laser"))
    of_eye(
        "K before laser flatter than now",
        lambda eye: {"before_laser_k": 37.5} if _is(eye, "after myopic laser") else None,
    )
    of_eye("K typed: 45 of nobody", lambda eye: {"k_rule": "typed", "typed_k": 45.0, "typed_k_reason": "by heart"})
    of_eye("K by the ring after laser", lambda eye: {"k_rule": "ring"} if _is(eye, "after myopic laser") else None)
    of_eye("SRK/T with this K after laser", lambda eye: _srkt(eye))
    of_eye("refraction with the other sign", lambda eye: {"refraction_sphere": -eye["refraction_sphere"]})
    of_eye("total that is the keratometry", lambda eye: _total(eye, 0.0))
    of_eye("total of the thin kind, 4 D lower", lambda eye: _total(eye, -4.0))
    of_eye("second device of the other eye, 3 D off", lambda eye: _second(eye, 3.0))
    of_eye("second device with radii as dioptres", lambda eye: {"second_flat": 7.8, "second_steep": 7.6})
    of_eye("rigid contact lens out for two days", lambda eye: {"contact_lens": "rigid", "days_out_of_contact_lens": 2})
    of_eye("biometry three years old", lambda eye: {"biometry_age_months": 36})
    of_eye("plus cylinder typed as minus", lambda eye: {"refraction_cylinder": -eye["refraction_cylinder"]})
    of_eye("a decimal comma as a text", lambda eye: {"axial_length": "23,45"})
    of_eye("an example lens chosen", lambda eye: {"lens": "Example Heron", "again_lens": "Example Heron"})
    for by in (-2.0, -0.5, 0.5, 2.0):
        of_lens(f"A constant {by:+} typed twice", lambda lens, by=by: {"a_constant": lens["a_constant"] + by}, True)  # type: ignore[misc]
    of_lens("A constant two more, typed once", lambda lens: {"a_constant": lens["a_constant"] + 2})
    of_lens("a0 of another lens", lambda lens: {"haigis_a0": lens["haigis_a0"] + 0.8})
    of_lens("surgeon factor of another lens", lambda lens: {"surgeon_factor": lens["surgeon_factor"] + 0.5})
    of_lens("pACD of another lens", lambda lens: {"hoffer_pacd": lens["hoffer_pacd"] + 0.5})
    of_lens("step 5 for 0.5", lambda lens: {"power_step": 5.0})
    of_lens("cylinders out of order", lambda lens: _reversed(lens))
    of_lens("no cylinders", lambda lens: {"cylinders": []} if "cylinders" in lens else None)
    of_lens("a toric lens called spherical", lambda lens: {"kind": "spherical"} if "cylinders" in lens else None)
    for name in SECOND:
        add(AFTER_CHECK + name, CATALOGUE[f"{name}, both entries"])


SECOND = (
    "length one millimetre more",
    "goal ten times",
    "the other toric lens",
    "incision a quarter round",
    "axes exchanged, ring",
)


def _is(eye: dict[str, Any], *diagnoses: str) -> bool:
    return eye["corneal_diagnosis"] in diagnoses


def _diagnosed(eye: dict[str, Any], true: str, said: str) -> dict[str, Any] | None:
    return {"corneal_diagnosis": said} if _is(eye, true) else None


def _srkt(eye: dict[str, Any]) -> dict[str, Any] | None:
    return {"lead_formula": "SRK/T", "position_k_rule": "same"} if _is(eye, "after myopic laser") else None


def _total(eye: dict[str, Any], by: float) -> dict[str, Any]:
    ends = {f"total3_{end}": round(eye[f"zone3_{end}"] + by, 2) for end in ("flat", "steep")}
    return ends | {"total3_steep_axis": eye["zone3_steep_axis"], "k_rule": "total"}


def _second(eye: dict[str, Any], by: float) -> dict[str, Any]:
    return {f"second_{end}": round(eye[f"zone3_{end}"] + by, 2) for end in ("flat", "steep")}


def _reversed(lens: dict[str, Any]) -> dict[str, Any] | None:
    return {"cylinders": lens["cylinders"][::-1]} if "cylinders" in lens else None


fill_singles()
