"""Fit for a toric lens: limits, order of the verdict, what is needed, and the story of the demo."""

from typing import Any

import numpy as np
import pytest

from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from builder.planner.reference.plan.cells import Values
from builder.planner.values import evaluate_cases
from tests.support.workbooks import expected, typed_case

# An eye with everything good; each test changes what it is about.
GOOD = {
    "corneal_diagnosis": "keratoconus",
    "axial_length": 24.0,
    "ring_flat": 44.0,
    "ring_flat_axis": 10,
    "ring_steep": 47.0,
    "ring_steep_axis": 100,
    "zone3_flat": 44.1,
    "zone3_flat_axis": 10,
    "zone3_steep": 47.0,
    "zone3_steep_axis": 100,
    "zone4_flat": 44.0,
    "zone4_flat_axis": 10,
    "zone4_steep": 46.8,
    "zone4_steep_axis": 100,
    "months_stable": 12,
    "spectacle_acuity_before": "useful",
    "rigid_lens_afterwards": "no",
    "contact_lens": "none",
    "lens": "Example Heron",
}
# What is typed, and the state it must have (clinical-basis, section 3: a printed limit belongs to the milder band).
STATES = [
    ("axis_zones", {"zone4_steep_axis": 105}, "good"),
    ("axis_zones", {"zone4_steep_axis": 110}, "borderline"),
    ("axis_zones", {"zone4_steep_axis": 111}, "against"),
    ("axis_zones", {"zone4_steep_axis": 90}, "borderline"),
    ("right_angle", {"ring_flat_axis": 15}, "good"),
    ("right_angle", {"ring_flat_axis": 25}, "borderline"),
    ("right_angle", {"ring_flat_axis": 26}, "against"),
    ("skew", {"axis_skew": 21}, "good"),
    ("skew", {"axis_skew": 22}, "borderline"),
    ("skew", {"axis_skew": 45}, "borderline"),
    ("skew", {"axis_skew": 46}, "against"),
    ("skew", {"axis_skew": 0}, "good"),
    ("skew", {"axis_skew": 80, "zone3_steep": 45.6}, "against"),
    ("skew", {"axis_skew": 80, "zone3_steep": 45.59}, "not asked"),
    ("repeats", {"cylinder_repeat_spread": 0.5}, "good"),
    ("repeats", {"cylinder_repeat_spread": 1.0}, "borderline"),
    ("repeats", {"cylinder_repeat_spread": 1.01}, "against"),
    ("peak_change", {"peak_k": 50, "peak_k_12_months_ago": 49}, "good"),
    ("peak_change", {"peak_k": 50, "peak_k_12_months_ago": 51.5}, "borderline"),
    ("peak_change", {"peak_k": 50, "peak_k_12_months_ago": 48.4}, "against"),
    ("progression", {"front_steeper": "no"}, "good"),
    ("progression", {"front_steeper": "yes"}, "borderline"),
    ("progression", {"front_steeper": "yes", "thinner": "yes"}, "against"),
    ("stability", {"months_stable": 12}, "good"),
    ("stability", {"months_stable": 6}, "borderline"),
    ("stability", {"months_stable": 5}, "against"),
    ("since_segments", {"ring_segments": "yes"}, "missing"),
    ("since_segments", {"ring_segments": "yes", "months_since_ring_segments": 6}, "good"),
    ("since_segments", {"ring_segments": "yes", "months_since_ring_segments": 3}, "borderline"),
    ("since_segments", {"ring_segments": "yes", "months_since_ring_segments": 2}, "against"),
    ("since_crosslinking", {"crosslinked": "yes", "months_since_crosslinking": 12}, "good"),
    ("since_crosslinking", {"crosslinked": "yes", "months_since_crosslinking": 5}, "against"),
    ("since_crosslinking", {"crosslinked": "no", "months_since_crosslinking": 5}, "not asked"),
    ("graft_state", {"corneal_diagnosis": "graft"}, "missing"),
    ("graft_state", {"corneal_diagnosis": "graft", "graft_sutures_out": "no"}, "against"),
    ("more_surgery", {"more_surgery_expected": "yes"}, "against"),
    ("acuity", {"spectacle_acuity_before": "doubtful"}, "borderline"),
    ("acuity", {"spectacle_acuity_before": "needed a rigid lens"}, "against"),
    ("rigid_after", {"rigid_lens_afterwards": "yes"}, "against"),
    ("lens_holiday", {"contact_lens": "soft", "days_out_of_contact_lens": 7}, "good"),
    ("lens_holiday", {"contact_lens": "soft", "days_out_of_contact_lens": 6}, "against"),
    ("lens_holiday", {"contact_lens": "rigid", "days_out_of_contact_lens": 27}, "against"),
    ("lens_holiday", {"contact_lens": "rigid"}, "missing"),
    ("severity", {"k_rule": "typed", "typed_k": 48}, "good"),
    ("severity", {"k_rule": "typed", "typed_k": 48.01}, "borderline"),
    ("severity", {"k_rule": "typed", "typed_k": 55}, "borderline"),
    ("severity", {"k_rule": "typed", "typed_k": 55.01}, "against"),
    ("k_spread", {"second_flat": 45.4, "second_steep": 47.4}, "good"),
    ("k_spread", {"second_flat": 45.41, "second_steep": 47.41}, "borderline"),
    ("k_spread", {"second_flat": 46.4, "second_steep": 48.4}, "borderline"),
    ("k_spread", {"second_flat": 46.41, "second_steep": 48.41}, "against"),
    ("second_axis", {"second_flat": 44, "second_steep": 47, "second_steep_axis": 105}, "good"),
    ("second_axis", {"second_flat": 44, "second_steep": 47, "second_steep_axis": 110}, "borderline"),
    ("second_axis", {"second_flat": 44, "second_steep": 47, "second_steep_axis": 89}, "against"),
    ("second_axis", {"second_flat": 44, "second_steep": 44.7, "second_steep_axis": 89}, "not asked"),
    ("second_cylinder", {"second_flat": 44, "second_steep": 47.5}, "good"),
    ("second_cylinder", {"second_flat": 44, "second_steep": 46}, "borderline"),
    ("second_cylinder", {"second_flat": 44, "second_steep": 48.01}, "against"),
    ("axis_pairs", {"second_flat": 44, "second_steep": 47, "second_steep_axis": 120}, "good"),
    ("axis_pairs", {"second_flat": 44, "second_steep": 47, "second_steep_axis": 121}, "borderline"),
    ("axis_pairs", {"second_flat": 44, "second_steep": 47, "second_steep_axis": 130}, "borderline"),
    ("axis_pairs", {"second_flat": 44, "second_steep": 47, "second_steep_axis": 131}, "against"),
    ("axis_pairs", {"second_flat": 44, "second_steep": 44.9, "second_steep_axis": 131}, "good"),
    ("scar", {"central_scar": "yes"}, "against"),
    ("scar", {"central_scar": "no"}, "good"),
    ("scar", {}, "not answered, taken as no"),
    ("day_change", {"corneal_diagnosis": "radial cuts"}, "missing"),
    ("day_change", {"k_change_in_a_day": 0.5}, "good"),
    ("day_change", {"corneal_diagnosis": "radial cuts", "k_change_in_a_day": 1.0}, "borderline"),
    ("day_change", {"corneal_diagnosis": "radial cuts", "k_change_in_a_day": 1.01}, "against"),
    ("tear_film", {"tear_film_treated": "yes"}, "good"),
    ("tear_film", {"tear_film_treated": "no"}, "borderline"),
    ("tear_film", {}, "not answered"),
]


def computed(model: Model, **changed: Any) -> Values:
    """The reference for the good eye with some inputs changed (None: not typed)."""
    eye = {key: value for key, value in {**GOOD, **changed}.items() if value is not None}
    return evaluate_cases(model, [typed_cells(model, {"right": eye})])


def verdict(values: Values) -> str:
    """The verdict of the right eye."""
    return str(values.get("eyes", "toric_verdict")[0, 0])


@pytest.mark.parametrize(("item", "typed", "state"), STATES)
def test_each_limit_belongs_to_the_milder_band(model: Model, item: str, typed: dict[str, Any], state: str) -> None:
    """A value on a printed limit is judged by the milder side, one past it by the harsher."""
    at = model.spec.lists["fit_items"].keys.index(item)
    assert computed(model, **typed).get("fit_items", "fit_state")[0, 0, at] == state


def test_the_order_of_the_verdict(model: Model) -> None:
    """Against goes before missing, missing before borderline, borderline before supported."""
    assert verdict(computed(model)) == "supported"
    assert verdict(computed(model, spectacle_acuity_before="doubtful")) == "surgeon's judgement"
    assert verdict(computed(model, spectacle_acuity_before="doubtful", rigid_lens_afterwards=None)) == "not enough data"
    assert verdict(computed(model, rigid_lens_afterwards=None, axis_skew=50)) == "not supported"


@pytest.mark.parametrize("missing", ["spectacle_acuity_before", "rigid_lens_afterwards", "months_stable"])
def test_what_is_needed_for_a_verdict(model: Model, missing: str) -> None:
    """Acuity, the rigid lens afterwards and, in a cone, stability are asked for."""
    assert verdict(computed(model, **{missing: None})) == "not enough data"


def test_radial_cuts_are_asked_for_stability_and_for_the_day(model: Model) -> None:
    """Both are needed there; with both, and good, the verdict supports."""
    cut: dict[str, Any] = {"corneal_diagnosis": "radial cuts"}
    assert verdict(computed(model, **cut)) == "not enough data"
    assert verdict(computed(model, **cut, k_change_in_a_day=0.4)) == "supported"
    assert verdict(computed(model, **cut, k_change_in_a_day=0.4, months_stable=None)) == "not enough data"


@pytest.mark.parametrize(("axis", "said"), [(103, "supported"), (None, "not enough data")])
def test_two_agreeing_devices_are_a_comparison_of_axes(model: Model, axis: int | None, said: str) -> None:
    """Keratometry and a second device suffice; the refraction alone does not."""
    gone = {
        f"{zone}_{key}": None for zone in ("zone3", "zone4") for key in ("flat", "steep", "flat_axis", "steep_axis")
    }
    second: dict[str, Any] = {"second_flat": 44, "second_steep": 47, "second_steep_axis": axis}
    refraction = {"refraction_sphere": 0, "refraction_cylinder": -3, "refraction_axis": 10}
    assert verdict(computed(model, **gone, **second, **refraction)) == said


def test_a_map_says_by_how_much_the_lens_may_miss(model: Model) -> None:
    """The asymmetry of the 3 mm ring itself: 0.44 D up to 1 D, 1.39 D above 3 D (medians of simulated eyes)."""
    cells = {}
    for size in (0.9, 1.0, 2.0, 3.0, 3.1):
        ring = [45 + size * np.cos(np.radians(30 * n)) + 1.5 * np.cos(np.radians(60 * n)) for n in range(12)]
        values = computed(model, map_d3=ring)
        at = model.spec.lists["fit_items"].keys.index("asymmetry_size")
        cells[size] = (
            str(values.get("eyes", "missed_said")[0, 0]),
            str(values.get("fit_items", "fit_state")[0, 0, at]),
            [r for r in values.get("fit_items", "fit_reason")[0, 0] if "0.44" in r or "1.39" in r],
        )
    small, between, large = (
        f"the lens may miss by {d} D (median of simulated eyes)" for d in ("about 0.44", "0.44 to 1.39", "about 1.39")
    )
    assert [said for said, _, _ in cells.values()] == [small, small, between, between, large]
    assert [state for _, state, _ in cells.values()] == ["good", "good", "borderline", "borderline", "borderline"]
    assert [len(reasons) for _, _, reasons in cells.values()] == [0, 0, 1, 1, 1]


def test_stability_is_not_asked_of_a_regular_cornea(model: Model) -> None:
    """A plain cornea gets its verdict without it."""
    assert verdict(computed(model, corneal_diagnosis="regular", months_stable=None)) == "supported"


def test_a_small_cylinder_compares_no_axes(model: Model) -> None:
    """Below 0.75 D an axis means little: its rows are skipped and nothing is held against the eye."""
    small = {f"{zone}_steep": 44.6 for zone in ("ring", "zone3", "zone4")}
    assert verdict(computed(model, **small, zone4_steep_axis=150)) == "supported"


def test_a_toric_lens_against_the_verdict_is_a_warning(model: Model) -> None:
    """The plan stands, with a soft warning that the first sheet shows."""
    at = model.spec.lists["points"].keys.index("verdict_against")
    for changed, live in (
        ({}, 0),
        ({"axis_skew": 50}, 1),
        ({"months_stable": None}, 1),
        ({"axis_skew": 50, "lens": "Example Plover"}, 0),
    ):
        assert computed(model, **changed).get("points", "point_live")[0, 0, at] == live


def test_a_typing_slip_is_pointed_out_by_its_place(model: Model) -> None:
    """One value ten dioptres off is named by ring and half-meridian, as a sentence and as a warning."""
    cells = expected(model, [typed_case("map-6-slip-partly")])[0]
    said = [
        str(cells[slot.place])
        for (side, _), slot in model.layout.cells("rings", "unlike_said").items()
        if side == "right"
    ]
    assert "120" in said[2]
    assert all("look again" not in said[n] for n in (0, 1, 3))


def test_the_demo_tells_the_whole_story(model: Model) -> None:
    """Peak high, centre regular, back-corrected K below the ring's, a verdict with reasons where there are any."""
    values = evaluate_cases(model, [typed_case("1-cone-both-eyes")])
    eye = {key: values.get("eyes", key)[0, 0] for key in ("peak_power", "mean_k", "back_corrected_k")}
    ring = values.get("candidates", "candidate_power")[0, 0, 0]
    assert eye["peak_power"] > eye["mean_k"] + 5
    assert eye["back_corrected_k"] < ring
    assert list(values.get("eyes", "toric_verdict")[0]) == ["supported", "surgeon's judgement"]
    assert [r for r in values.get("fit_items", "fit_reason")[0, 1] if r] == [
        "Spectacle acuity before the cataract: borderline",
        "Mean K used: borderline",
    ]
