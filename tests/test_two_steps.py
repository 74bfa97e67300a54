"""The lens later, when no corneal power can be trusted; long eyes and radial cuts in words."""

from typing import Any

import pytest

from builder.engine.layout import Place
from builder.engine.model import Model
from tests.support.workbooks import by_key, expected, typed_case

Cells = dict[Place, Any]


def case(model: Model, name: str) -> Cells:
    """What the reference has in every cell of a case."""
    return expected(model, [typed_case(name)])[0]


def by_hand(k: float, refraction: float, goal: float, d: float) -> float:
    """The published rule (holladay1993, from memory): all at the cornea, D and mm."""
    net = k / 0.3375 / 3
    now, wanted = net + refraction, net + goal
    return 1336 / (1336 / now - d) - 1336 / (1336 / wanted - d)


@pytest.mark.parametrize(
    ("eye", "k", "worn", "vertex", "goal"),
    [("right", 56.4, (2.0, -1.0), 13, -1.5), ("left", 45.0, (12.0, 12.0), 14, -0.5)],
)
def test_the_lens_from_the_refraction(
    model: Model, eye: str, k: float, worn: tuple[float, float], vertex: float, goal: float
) -> None:
    """Exact power by hand, and how little a K that is 2 D lower changes of it."""
    cells = case(model, "two-steps")
    assert by_key(model, cells, "mean_k", eye) == pytest.approx(k)
    at_cornea = sum(power / (1 - vertex * power / 1000) for power in worn) / 2
    wanted = goal / (1 - 0.012 * goal)
    d = by_key(model, cells, "lead_position", eye)
    power = by_hand(k, at_cornea, wanted, d)
    assert by_key(model, cells, "two_step_power", eye) == pytest.approx(power, abs=1e-9)
    net_lower = (k / 0.3375 / 3 - 2) * 0.3375 * 3
    doubt = by_hand(net_lower, at_cornea, wanted, d) - power
    assert by_key(model, cells, "two_step_doubt", eye) == pytest.approx(doubt, abs=1e-9)
    assert abs(doubt) < 1.0, "in a plan from the K, 2 D of it are more than 2 D of lens"


def test_the_refraction_expected_with_the_stepped_lens(model: Model) -> None:
    """The step errs to the myopic side by less than a step's worth; a stronger lens makes more myopic."""
    cells = case(model, "two-steps")
    exact, lens, refraction = (
        by_key(model, cells, key, "right") for key in ("two_step_power", "two_step_lens_power", "two_step_refraction")
    )
    assert exact <= lens < exact + 0.5 + 1e-9
    assert -1.5 - 0.5 < refraction <= -1.5


def test_two_steps_are_offered_when_no_power_can_be_trusted(model: Model) -> None:
    """Sources 2.6 D apart: said among the points; a single source at K 45 in the other eye: not."""
    cells = case(model, "two-steps")
    live = model.layout.cells("points", "point_live")
    assert by_key(model, cells, "candidate_spread", "right") == pytest.approx(2.6)
    assert [cells[live[eye, "two_steps"].place] for eye in ("right", "left")] == [1, 0]


def test_a_long_eye_with_a_toric_lens_asks_for_a_ring(model: Model) -> None:
    """From 25.5 mm on the theatre page says it, and an axis error of 7 degrees is expected (ijo2021)."""
    cells = case(model, "long-eye-and-cuts")
    assert by_key(model, cells, "lens_cylinder", "right") > 0
    assert by_key(model, cells, "axis_error", "right") == 7
    pages = {eye: model.layout.cells(f"page_{eye}", "page_long") for eye in ("right", "left")}
    said = {eye: next(iter(cells[slot.place] for slot in pages[eye].values())) for eye in pages}
    assert "capsular tension ring at hand" in said["right"]
    assert "7.4 ± 11.3" in said["right"]
    assert not said["left"]


def test_radial_cuts_are_said_on_odds_and_in_theatre(model: Model) -> None:
    """Opening, drift through the day, early shift and drift over years, and what is published (soare2022, perk1994)."""
    cells = case(model, "long-eye-and-cuts")
    drift, such, beside = (
        by_key(model, cells, key, "left") for key in ("drift_sentence", "such_sentence", "goal_experience")
    )
    for words in ("may open", "through the day", "fades over weeks", "43 %"):
        assert words in drift
    assert "68 %" in such
    assert "68 %" in beside
    page = model.layout.cells("page_left", "page_cuts")
    assert "may open" in next(iter(cells[slot.place] for slot in page.values()))


@pytest.mark.parametrize(
    ("diagnosis", "words"),
    [("graft", "no figure known"), ("regular", "93 %"), ("after myopic laser", "2.4 D"), ("other", "no figure known")],
)
def test_what_is_published_stands_beside_the_goal(model: Model, diagnosis: str, words: str) -> None:
    """A figure with its source where there is one, else that none is known."""
    place = next(p for p, v in typed_case("two-steps").items() if v == "graft")
    cells = expected(model, [{**typed_case("two-steps"), place: diagnosis}])[0]
    assert words in by_key(model, cells, "goal_experience", "left")
