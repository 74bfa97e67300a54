"""Laws that hold whatever the numbers are: optics knows no preferred angle, no preferred eye and no way of writing.

All through the workbook's reference, which the other tests tie to the cells.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from builder.engine.layout import Place, Slot
from builder.engine.model import Model
from builder.engine.same import AXIS_CLOSE
from builder.planner.exchange.casefile import typed_cells
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.formulas import FORMULAS
from builder.planner.values import evaluate_cases
from tests.support.workbooks import typed_case

# Cases without the population's correction, which prefers the vertical by its nature.
TURNED = (
    "oblique",
    "axes-0-and-180",
    "front-and-back",
    "total-power",
    "past-the-root",
    "nearest-and-smallest",
    "own-lenses",
    "plus-cylinder",
    "strongest-falls-short",
    "tied-candidates",
)
POWERS = {
    "eyes": (
        "mean_k",
        "exact_power",
        "lens_power",
        "predicted_mean",
        "cornea_cylinder",
        "total_cylinder",
        "ideal_cylinder",
        "lens_cylinder",
        "lens_cylinder_at_cornea",
        "predicted_sphere",
        "predicted_cylinder",
    ),
    "options": ("trace_effect", "option_sphere", "option_left"),
    "rotations": ("trace_sphere", "rotated_left"),
    "sources": ("source_cylinder",),
    "formulas": ("plano_power", "goal_power", "refraction_predicted"),
}
AXES = {
    "eyes": ("cornea_axis", "total_axis", "marks_axis", "predicted_axis"),
    "options": ("option_axis",),
    "rotations": ("trace_axis_left",),
    "sources": ("source_axis",),
}
# Rows that rightly differ between the eyes: the words that name the eye, and places of cells in words.
NAMES_THE_EYE = (
    "sentence",
    "reason_line",
    "warning_line",
    "gap_words",
    "point_open",
    "waiting_said",
    "compare_said",
    "eye_next",
    "follow_next",
    "state_said",
    "open_said",
    "warnings_said",
    "compared_at",
    "refused_place",
)  # or one of its cells


def _plain(model: Model, name: str) -> dict[Place, Any]:
    """A case whose eyes correct what was measured, where the default would take the population's correction."""
    typed = dict(typed_case(name))
    source, names = evaluate_cases(model, [typed]).get("eyes", "source_place")[0], model.spec.lists["sources"].keys
    for eye, used in zip(EYES, source, strict=True):
        if used == names.index("regression") + 1:
            place = model.layout.cells("eyes", "typed_astigmatism_source")[eye, eye].place
            typed[place] = model.spec.words.get("choice", "ring")
    return typed


def _turned(model: Model, name: str, turn: Callable[[float, float], float]) -> dict[Place, Any]:
    """A case with every angle changed: turn(angle, full circle of its kind)."""
    slots: dict[Place, Slot] = {slot.place: slot for slot in model.layout.slots if slot.row.input is not None}
    typed = _plain(model, name)
    for place, value in typed.items():
        item = slots[place].row.input
        if item is not None and item.unit == "degrees" and item.highest in (180, 360):
            typed[place] = turn(float(value), float(item.highest))
    return typed


def _of(model: Model, values: Any, list_name: str, key: str) -> Any:
    """A row; of the sources without the population's correction."""
    row = values.get(list_name, key)
    return (
        row[..., [name != "regression" for name in model.spec.lists["sources"].keys]] if list_name == "sources" else row
    )


def _same_powers(model: Model, first: Any, second: Any) -> None:
    for list_name, keys in POWERS.items():
        for key in keys:
            one, other = (_of(model, values, list_name, key) for values in (first, second))
            np.testing.assert_allclose(one, other, rtol=1e-9, atol=1e-9, err_msg=key)


def _axes_are(model: Model, first: Any, second: Any, turn: Callable[[Any], Any], but: str = "") -> None:
    for list_name, keys in AXES.items():
        for key in keys if list_name != but else ():
            gap = _of(model, second, list_name, key) - turn(_of(model, first, list_name, key))
            assert np.isfinite(gap).any(), key
            np.testing.assert_allclose(np.mod(gap + 90, 180) - 90, gap * 0, atol=AXIS_CLOSE, err_msg=key)


@pytest.mark.parametrize("angle", [7.0, 45.0, 90.0, 133.5])
def test_turning_everything_turns_the_answer(model: Model, angle: float) -> None:
    """With all axes and the incision turned by an angle, every axis turns by it and no power changes."""
    first = evaluate_cases(model, [_plain(model, name) for name in TURNED])
    second = evaluate_cases(model, [_turned(model, name, lambda a, circle: (a + angle) % circle) for name in TURNED])
    _same_powers(model, first, second)
    _axes_are(model, first, second, lambda axis: axis + angle)


def test_a_mirrored_eye_has_mirrored_axes(model: Model) -> None:
    """With all angles mirrored at the vertical, every axis is mirrored and no power changes."""
    first = evaluate_cases(model, [_plain(model, name) for name in TURNED])
    second = evaluate_cases(model, [_turned(model, name, lambda a, circle: (180 - a) % circle) for name in TURNED])
    _same_powers(model, first, second)
    # The table of rotations turns the lens one way only, so its axes have no mirror; what they leave is compared above.
    _axes_are(model, first, second, lambda axis: 180 - axis, but="rotations")


def test_180_is_0(model: Model) -> None:
    """An axis of 180 is an axis of 0, and a position of 360 one of 0: nothing computed changes."""
    name = "axes-0-and-180"
    first = evaluate_cases(model, [_plain(model, name)])
    second = evaluate_cases(model, [_turned(model, name, lambda a, circle: circle - a if a in (0, circle) else a)])
    assert _turned(model, name, lambda a, circle: circle - a if a in (0, circle) else a) != _plain(model, name)
    _same_powers(model, first, second)
    _axes_are(model, first, second, lambda axis: axis)


def test_right_and_left_are_alike(model: Model) -> None:
    """With the readings of the two eyes exchanged, the results are exchanged."""
    names = (*TURNED, "after-myopic-laser", "typed-k", "regression", "differs", "no-chamber-depth", "refused-readings")
    swap = {
        slot.place: model.layout.cells("eyes", slot.row.key)[(EYES[1 - EYES.index(slot.side)],) * 2].place
        for slot in model.layout.slots
        if slot.row.input is not None and slot.side and slot.block.instances.name == "eyes"
    }
    yes = model.layout.cells("to_confirm", "typed_slip_yes")
    swap |= {slot.place: yes[EYES[1 - EYES.index(eye)], key].place for (eye, key), slot in yes.items()}
    above = {slot.place: 90 for slot in model.layout.cells("eyes", "typed_incision_meridian").values()}
    typed = [{**typed_case(name), **above} for name in names]  # neither nasal nor temporal
    first = evaluate_cases(model, typed)
    second = evaluate_cases(model, [{swap.get(place, place): value for place, value in one.items()} for one in typed])
    compared = 0
    for (list_name, key), values in first.rows.items():
        if list_name == "sides":  # nasal and temporal are where they are
            continue
        if (list_name == "eyes" or model.spec.lists[list_name].per == "side") and not key.endswith(NAMES_THE_EYE):
            np.testing.assert_array_equal(values[:, ::-1], second.get(list_name, key), err_msg=f"{list_name}.{key}")
            compared += 1
    assert compared > 300


@pytest.mark.parametrize(
    ("sphere", "cylinder", "axis"), [(1.0, 2.0, 30.0), (-22.5, 6.0, 178.0), (0.25, 0.5, 90.0), (3.0, 4.5, 0.0)]
)
def test_plus_cylinder_is_the_same_eye(model: Model, sphere: float, cylinder: float, axis: float) -> None:
    """A refraction in plus cylinder and in minus cylinder is one vector: +1.00 +2.00 x 30 = +3.00 -2.00 x 120."""

    def typed(s: float, c: float, a: float) -> dict[Place, Any]:
        readings = {
            "refraction_sphere": s,
            "refraction_cylinder": c,
            "refraction_axis": a % 180,
            "refraction_vertex": 13.5,
        }
        return {**typed_case("ready"), **typed_cells(model, {"right": readings})}

    first, second = (
        evaluate_cases(model, [typed(*written)])
        for written in ((sphere, cylinder, axis), (sphere + cylinder, -cylinder, axis + 90))
    )
    _same_powers(model, first, second)
    _axes_are(model, first, second, lambda angle: angle)
    for key in ("source_x", "source_y"):
        np.testing.assert_allclose(first.get("sources", key), second.get("sources", key), atol=1e-9)
    assert np.nanmax(np.abs(first.get("sources", "source_x")[0, 0])) > 0


def test_a_steeper_cornea_never_asks_for_a_stronger_lens(model: Model) -> None:
    """Common practice (clinical-basis section 9, row 17), wherever the formulas are in their range."""
    lengths, powers = (19.0, 21.0, 23.5, 25.0, 27.0, 30.0), np.arange(36.0, 70.01, 1.0)
    eyes = [
        {
            eye: {
                "corneal_diagnosis": "keratoconus",
                "axial_length": length,
                "acd": 3.2,
                "ring_flat": k,
                "ring_steep": k,
                "goal": goal,
                "lens": "Example Heron",
                "position_k_rule": "same",
            }
            for eye, goal in (("right", -3.0), ("left", 0.0))
        }
        for length in lengths
        for k in powers.tolist()
    ]
    values = evaluate_cases(model, [typed_cells(model, case) for case in eyes])

    def by_k(row: Any) -> Any:
        return row.reshape(len(lengths), len(powers), 2)

    for place, name in enumerate(FORMULAS):
        power, position = (by_k(values.get("formulas", key)[..., place]) for key in ("goal_power", "lens_position"))
        inside = position <= 10
        if name == "srkt":
            inside &= by_k(values.get("eyes", "srkt_width_ratio")) <= 1.9
        both = inside[:, 1:] & inside[:, :-1]
        assert both.sum() > 100, name
        assert (np.diff(power, axis=1)[both] <= 1e-9).all(), f"{name}: {np.nanmax(np.diff(power, axis=1)[both])} D"
