"""What could leave an eye hyperopic, or credit a lens with another's figures, is said and does not pass in silence."""

from typing import Any

import pytest

from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from builder.planner.reference.eyes import EYES
from tests.support.workbooks import by_key, case_files, expected, typed_case


@pytest.fixture(scope="module")
def cells(model: Model) -> dict[str, Any]:
    names = ("after-laser-by-another-rule", "typed-k-alone", "progression-denied", "followup-another-lens")
    return dict(zip(names, expected(model, [typed_case(name) for name in names]), strict=True))


def _said(model: Model, cells: Any, eye: str, key: str) -> bool:
    """Whether a point of an eye is live."""
    return cells[model.layout.cells("points", "point_live")[eye, key].place] == 1


@pytest.mark.parametrize("eye", ["right", "left"])
def test_plain_keratometry_after_laser_is_warned_of_by_every_rule(
    model: Model, cells: dict[str, Any], eye: str
) -> None:
    """Mean of the zones, and a typed K far above that of the methods for such eyes, as lowest and ring are."""
    found = cells["after-laser-by-another-rule"]
    assert by_key(model, found, "mean_k", eye) > by_key(model, found, "after_laser_k", eye) + 1
    assert _said(model, found, eye, "keratometry_after_laser")


def test_half_a_pair_of_readings_is_said(model: Model, cells: dict[str, Any]) -> None:
    """A flat reading without its steep one counts for nothing, and its own sentence names it."""
    found = cells["after-laser-by-another-rule"]
    pairs = ("ring", "zone3", "zone4", "second", "total3", "total4", "back")
    said = {eye: [pair for pair in pairs if _said(model, found, eye, f"half_{pair}")] for eye in ("right", "left")}
    assert said == {"right": ["second"], "left": ["ring", "back"]}


def test_a_typed_k_that_nothing_was_measured_for_waits_for_confirmation(model: Model, cells: dict[str, Any]) -> None:
    """No candidate is near it, since there is none; and the second person is told to compare it."""
    found = cells["typed-k-alone"]
    eye = next(eye for eye in ("right", "left") if by_key(model, found, "mean_k_source", eye) == "typed")
    assert by_key(model, found, "candidate_count", eye) == 0
    assert _said(model, found, eye, "typed_k_outside")
    assert by_key(model, found, "status", eye) == "not ready"
    assert by_key(model, found, "chance_hyperopic", eye) is not None
    said = found[model.layout.cells("eyes", "compare_said")[eye, eye].place]
    assert "The typed K decides" in said


def test_an_answer_does_not_silence_the_visits(model: Model, cells: dict[str, Any]) -> None:
    """Three times "no", while the earlier visits show all three signs of progression (gomes2015)."""
    found = cells["progression-denied"]
    assert by_key(model, found, "progression_signs", "right") == 3
    assert by_key(model, found, "toric_verdict", "right") == "not supported"
    assert by_key(model, found, "progression_signs", "left") == 0


def test_another_lens_takes_no_figure_of_the_planned_one(model: Model, cells: dict[str, Any]) -> None:
    """Its power must be typed; until then nothing is judged, and the head line asks for it."""
    found = cells["followup-another-lens"]
    assert by_key(model, found, "fitted_lens", "right") == "Example Curlew"
    assert by_key(model, found, "fitted_power", "right") is None
    assert by_key(model, found, "error_mean", "right") is None
    assert by_key(model, found, "fitted_power", "left") == 19.5
    assert by_key(model, found, "error_mean", "left") is not None


def test_a_lens_that_is_not_on_the_safe_side_is_told(model: Model, cells: dict[str, Any]) -> None:
    """More than one chance in ten of ending far-sighted is a prediction above the safe target, and no other is."""
    names = [*case_files()]
    seen = set()
    for found in expected(model, [typed_case(name) for name in names]):
        for eye in EYES:
            chance, said = (by_key(model, found, key, eye) for key in ("chance_hyperopic", "safe_sentence"))
            assert (chance is None) == (said is None)
            if said is not None and abs(chance - 0.1) > 1e-4:  # the constant of one in ten has four decimals
                assert ("above the safe target" in said) == (chance > 0.1)
                seen.add(chance > 0.1)
    assert seen == {True, False}


def test_a_steep_cone_without_its_back_is_told(model: Model, cells: dict[str, Any]) -> None:
    """Keratometry of the front alone over-reads it, in one direction (pinero2014); no odds hold that."""
    with_back = cells["progression-denied"]
    without = {place: None for place in typed_cells(model, {"right": {"back_flat_radius": 1, "back_steep_radius": 1}})}
    steep = typed_cells(model, {"right": {"zone3_flat": 50.0, "zone3_steep": 52.0}})
    alone = expected(model, [{**typed_case("progression-denied"), **without, **steep}])[0]
    for found, told in ((with_back, False), (alone, True)):
        assert (by_key(model, found, "front_alone", "right") == 1) is told
        assert ("Front readings alone" in by_key(model, found, "cornea_note", "right")) is told


def test_an_unanswered_question_is_not_shown_as_a_no(model: Model, cells: dict[str, Any]) -> None:
    """It counts as one, and the table of fitness says so."""
    found = cells["progression-denied"]
    for item in ("lens_holiday", "since_segments", "since_crosslinking", "more_surgery"):
        slot = model.layout.cells("fit_items", "fit_state")["right", item]
        assert found[slot.place] == "not answered, taken as no"
