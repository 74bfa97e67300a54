"""What the follow-up withholds, and why: an unsettled refraction, unlike eyes; how far apart both eyes are."""

from typing import Any

import pytest

from builder.engine.layout import Place
from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from tests.support.workbooks import by_key, expected, typed_case

Cells = dict[Place, Any]
ACTS = ("exchange_power", "second_lens_power", "rule_added")


def answer(model: Model, cells: Cells, eye: str, topic: str) -> str:
    """The sentence of the follow-up on a topic."""
    return str(cells[model.layout.cells("answers", "answer_sentence")[eye, topic].place] or "")


def judged(model: Model, day: float | None, diagnosis: str) -> Cells:
    """An eye judged on a day."""
    visit = {"sphere": 2.0, "cylinder": -0.75, "axis": 20} | ({} if day is None else {"day": day})
    eye = {"corneal_diagnosis": diagnosis, "axial_length": 24.0, "acd": 3.2, "ring_flat": 43.0, "ring_steep": 44.0}
    eye |= {"goal": -0.5, "lens": "Example Plover", "implanted_lens": "Example Plover", "implanted_power": 20}
    return expected(model, [typed_cells(model, {"right": eye | {"visit": [visit]}})])[0]


@pytest.mark.parametrize(
    ("diagnosis", "day", "settled"),
    [
        ("regular", 27, 0),
        ("regular", 28, 1),
        ("regular", None, 0),
        ("radial cuts", 28, 0),
        ("radial cuts", 89, 0),
        ("radial cuts", 90, 1),
    ],
)
def test_no_lens_is_offered_before_the_eye_has_settled(
    model: Model, diagnosis: str, day: float | None, settled: int
) -> None:
    """28 days, after radial cuts 90; without a day nothing is offered either, and the sentence says why."""
    cells = judged(model, day, diagnosis)
    assert by_key(model, cells, "settled", "right") == settled
    assert [by_key(model, cells, key, "right") is not None for key in ACTS] == [bool(settled)] * len(ACTS)
    wait = "until a visit on day 90 or later" if diagnosis == "radial cuts" else "until a visit on day 28 or later"
    assert (wait in answer(model, cells, "right", "adding")) == (not settled)


def test_radial_cuts_on_day_30_wait_until_day_90(model: Model) -> None:
    """+2.00 -0.75 on day 30: no exchange, and the published early shift is the reason (one eye, 2009)."""
    cells = expected(model, [typed_case("followup-radial-cuts-day-30")])[0]
    assert by_key(model, cells, "error_mean", "right") is not None
    assert by_key(model, cells, "exchange_power", "right") is None
    assert "day 90" in answer(model, cells, "right", "adding")
    assert "+4.0 D on day 1, about 1 D less each week" in answer(model, cells, "right", "day")


def test_unlike_eyes_get_no_half(model: Model) -> None:
    """K 36 after radial cuts, the other eye regular at K 46: no power from half of the error, with the reason."""
    cells = expected(model, [typed_case("followup-radial-cuts-day-30")])[0]
    assert by_key(model, cells, "fellow_error", "left") is not None
    assert by_key(model, cells, "half_power", "left") is None
    assert answer(model, cells, "left", "fellow_eye").startswith("Half of the other eye's error is withheld")


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({}, "half_shown"),
        ({"ring_flat": 38.21}, "half_unlike_k"),
        ({"corneal_diagnosis": "regular"}, "half_unlike_cornea"),
    ],
)
def test_like_eyes_get_half_of_a_settled_error(model: Model, change: dict[str, Any], word: str) -> None:
    """Mean K within 0.6 D (38.0 and 38.6) and the same diagnosis; else the reason why not."""
    typed = {**typed_case("followup-like-eyes"), **typed_cells(model, {"left": change})}
    cells = expected(model, [typed])[0]
    assert answer(model, cells, "left", "fellow_eye") == model.spec.words.get("word", word)
    error, half = (by_key(model, cells, key, "left") for key in ("fellow_error", "fellow_half"))
    assert half == (pytest.approx(error / 2) if word == "half_shown" else None)


def test_both_eyes_stand_side_by_side(model: Model) -> None:
    """The other eye's refraction, at its latest visit or as it is now, less this eye's prediction; over 3 D is said."""
    cells = expected(model, [typed_case("followup-like-eyes")])[0]
    live = model.layout.cells("points", "point_live")
    for eye, other, source in (("right", -5.25, "fellow_present"), ("left", None, "fellow_last_visit")):
        if other is None:  # +1.00 and +0.50 D worn at 14 mm, as worn at 12 mm
            other = (1.0 / (1 - 0.002 * 1.0) + 0.5 / (1 - 0.002 * 0.5)) / 2
        wanted = other - by_key(model, cells, "predicted_mean", eye)
        assert by_key(model, cells, "eyes_difference", eye) == pytest.approx(wanted, abs=1e-9)
        assert by_key(model, cells, "fellow_refraction_from", eye) == model.spec.words.get("word", source)
        assert cells[live[eye, "eyes_apart"].place] == (1 if abs(wanted) > 3 else 0)
