"""The statistics of the outcome register against print, hand arithmetic, another library and invented truths."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import brentq

from builder.engine.model import Model, load_model
from builder.planner.books import REGISTER
from builder.planner.exchange.register import register_cells
from builder.planner.reference.plan.cells import Values
from builder.planner.reference.register.astigmatism import f_part
from builder.planner.reference.register.errors import proportion, wilson
from builder.planner.reference.register.rows import FORMULAS
from builder.planner.values import evaluate_cases
from tests.support.register_lines import CONSTANTS, invented_lines, predictions

# By hand: sum 3.50, sum of sizes 5.00, sum of squares 4.50.
TEN = (-0.5, -0.25, 0.0, 0.0, 0.25, 0.25, 0.5, 0.75, 1.0, 1.5)


@pytest.fixture(scope="module")
def register() -> Model:
    """A register of few lines."""
    return load_model(REGISTER, lines=60)


def evaluated(register: Model, lines: list[dict[str, Any]]) -> Values:
    return evaluate_cases(register, [register_cells(register, lines)])


def of(values: Values, name: str, key: str, at: int = 0) -> Any:
    """A value of the only register: of a list's place, or of the plan."""
    found = values.get(name, key)[0]
    return found if name == "plan" else found[at]


def with_errors(errors: tuple[float, ...]) -> list[dict[str, Any]]:
    """Lines whose spherical equivalents miss the plan by these errors (D)."""
    lines = invented_lines(len(errors))
    for line, error in zip(lines, errors, strict=True):
        line |= {"predicted_sphere": -0.25, "predicted_cylinder": -0.5, "sphere": error, "cylinder": -1.0, "axis": 90.0}
    return lines


def test_published_shares(register: Model) -> None:
    """205,675 and 263,015 of 282,811 eyes are 72.7 and 93.0 % (lundstrom2018)."""
    assert [round(proportion(inside, 282811)[0], 1) for inside in (205675, 263015)] == [72.7, 93.0]
    values = evaluated(register, [])
    assert [round(of(values, "printed", "share_counted", n), 1) for n in (0, 1)] == [72.7, 93.0]
    assert "YES" in of(values, "plan", "proof_said")


def test_ten_errors_by_hand(register: Model) -> None:
    """Mean 0.35; SD sqrt((4.5 - 10 * 0.35^2)/9); mean size 0.5; median size (0.25 + 0.5)/2; 5, 7, 8, 9 of 10."""
    values = evaluated(register, with_errors(TEN))
    hand = {
        "eyes_counted": 10,
        "mean_error": 0.35,
        "sd_error": math.sqrt(3.275 / 9),
        "mean_absolute": 0.5,
        "median_absolute": 0.375,
        "root_mean_square": math.sqrt(0.45),
        "share_quarter": 50,
        "share_half": 70,
        "share_three_quarters": 80,
        "share_one": 90,
        # mean removed: -.85 -.6 -.35 -.35 -.1 -.1 .15 .4 .65 1.15
        "centred_mean_absolute": 4.7 / 10,
        "centred_median_absolute": (0.35 + 0.4) / 2,
        "share_centred_quarter": 30,
        "share_centred_half": 60,
        "share_centred_three_quarters": 80,
        "share_centred_one": 90,
    }
    for key, value in hand.items():
        assert of(values, "series", key) == pytest.approx(value, abs=1e-12), key


@pytest.mark.parametrize(
    ("inside", "eyes", "low", "high"),
    [
        # z^2 = 3.8416: 5 of 10 by hand 1/2 -+ 1.96/13.8416 * sqrt(2.5 + 0.9604); 0 and 10 of 10: z^2/(n + z^2)
        (5, 10, 0.5 - 1.96 / 13.8416 * math.sqrt(3.4604), 0.5 + 1.96 / 13.8416 * math.sqrt(3.4604)),
        (0, 10, 0.0, 3.8416 / 13.8416),
        (10, 10, 10 / 13.8416, 1.0),
    ],
)
def test_wilson_by_hand(inside: float, eyes: float, low: float, high: float) -> None:
    assert wilson(inside, eyes) == pytest.approx((low, high), abs=1e-12)


@pytest.mark.parametrize(("inside", "eyes"), [(3, 20), (36, 102), (63, 102), (1, 1), (499, 500)])
def test_wilson_against_another_library(inside: int, eyes: int) -> None:
    """scipy's score interval; z there is 1.959964, here 1.96 (wilson1927)."""
    other = stats.binomtest(inside, eyes).proportion_ci(0.95, method="wilson")
    assert wilson(inside, eyes) == pytest.approx((other.low, other.high), abs=2e-5)


@pytest.mark.parametrize("eyes", [3, 4, 10, 57, 500])
def test_ellipse_factor_is_the_f_quantile(eyes: int) -> None:
    """20^(2/(n - 2)) - 1 = 2/(n - 2) F(0.95; 2, n - 2): the exact form of the ellipse (Hotelling; koch2021)."""
    assert f_part(eyes) == pytest.approx(2 / (eyes - 2) * stats.f.ppf(0.95, 2, eyes - 2), rel=1e-9)


def test_an_ellipse_holds_95_of_100() -> None:
    """Of new points of the same normal cloud, 95 % lie inside the ellipse of the data: 4,000 trials, fixed seed."""
    draw, eyes, inside, trials = np.random.default_rng(5), 12, 0, 4000
    for _ in range(trials):
        points = draw.normal(size=(eyes + 1, 2)) @ np.array([[1.0, 0.4], [0.0, 0.5]])
        spread, off = np.cov(points[:eyes].T), points[eyes] - points[:eyes].mean(axis=0)
        inside += bool(off @ np.linalg.solve(spread, off) <= (eyes**2 - 1) / eyes * f_part(eyes))
    assert inside / trials == pytest.approx(0.95, abs=0.011)  # three standard errors


def test_the_constant_that_made_the_outcomes_is_found(register: Model) -> None:
    """Eyes that came out as SRK/T predicts with another A (and Holladay 1 with another factor) give that constant."""
    for key, name, truth in (("srkt", "a_constant", 119.13), ("holladay1", "surgeon_factor", 1.31)):
        lines = [line for line in invented_lines(60, seed=8) if line["mean_k"] < 47][:30]
        for line in lines:
            outcome = predictions(line | {name: truth})[f"predicted_{key}"]
            line |= {"lens": "Only lens", "corneal_diagnosis": "regular", "mean_k_source": "ring"}
            line |= {"sphere": outcome, "cylinder": 0.0}
        values = evaluated(register, lines)
        assert of(values, "lens_rows", f"{key}_eyes") == len(lines) >= 20
        assert of(values, "lens_rows", f"{key}_used_mean") == pytest.approx(CONSTANTS[name])
        assert of(values, "lens_rows", f"{key}_zeroing") == pytest.approx(truth, abs=5e-4)  # outcomes have 4 decimals
        assert abs(of(values, "lens_rows", f"{key}_left")) < 1e-5


def of_one_lens(count: int, seed: int) -> list[dict[str, Any]]:
    """Lines of one lens in regular corneas, those of so many drawn whose mean K is an ordinary one."""
    only = {"lens": "Only lens", "corneal_diagnosis": "regular", "mean_k_source": "ring"}
    return [line | only for line in invented_lines(count, seed) if line["mean_k"] < 47]


def expected_srkt(lines: list[dict[str, Any]], a_constant: float) -> float:
    """The mean refraction that SRK/T expects with this constant."""
    return float(np.mean([predictions(line | {"a_constant": a_constant})["predicted_srkt"] for line in lines]))


def test_the_steps_end_at_the_root(register: Model) -> None:
    """The last constant of the steps is the root that Brent's method finds for the mean error of the same lines."""
    lines = of_one_lens(60, seed=9)
    values = evaluated(register, lines)
    achieved = float(np.mean([line["sphere"] + line["cylinder"] / 2 for line in lines]))
    root = brentq(lambda a_constant: achieved - expected_srkt(lines, a_constant), 117, 121)
    assert of(values, "lens_rows", "srkt_eyes") == len(lines)
    assert of(values, "lens_rows", "srkt_zeroing") == pytest.approx(root, abs=2e-4)


@pytest.mark.parametrize("regular", [19, 20])
def test_a_constant_needs_twenty_regular_corneas(register: Model, regular: int) -> None:
    """Of 30 eyes that came out too hyperopic the regular ones decide: 19 give words alone, 20 a constant."""
    lines = of_one_lens(60, seed=9)[:30]
    for line in lines:
        line["sphere"] += 0.5
        line.setdefault("acd", 3.3)
    for number, line in enumerate(lines[regular:]):
        line["corneal_diagnosis"] = ("graft", "after myopic laser", "keratoconus")[number % 3]
    values = evaluated(register, lines)
    assert (of(values, "lens_rows", "lens_eyes"), of(values, "lens_rows", "lens_regular_eyes")) == (30, regular)
    for key in FORMULAS:
        found, other, missed = (of(values, "lens_rows", f"{key}_{row}") for row in ("zeroing", "other", "missed"))
        assert of(values, "lens_rows", f"{key}_eyes") == regular
        if regular < 20:
            assert math.isnan(found) and math.isnan(other), key
        else:
            assert found > of(values, "lens_rows", f"{key}_used_mean") and (other, missed) == (1, 0), key


def test_irregular_corneas_change_no_constant(register: Model) -> None:
    """A lens in 25 regular eyes gives the same constants with 15 eyes after laser beside them, planned with another
    constant and missed by 2 D; the mean error of all its eyes alone shows them."""
    lines = of_one_lens(60, seed=9)[:25]
    irregular = [line | {"corneal_diagnosis": "after myopic laser"} for line in invented_lines(60, seed=3)[45:]]
    for number, line in enumerate(irregular):
        line |= {"lens": "Only lens", "file_number": f"X{number}", "a_constant": 119.53, "surgeon_factor": 2.1}
        line["sphere"] -= 2
    mixed, alone = evaluated(register, lines + irregular), evaluated(register, lines)
    assert of(mixed, "lens_rows", "lens_eyes") == 40 and of(mixed, "lens_rows", "lens_regular_eyes") == 25
    for key in FORMULAS:
        for row in ("eyes", "used_mean", "before", "zeroing", "give_or_take", "left", "other"):
            with_them, without = (of(values, "lens_rows", f"{key}_{row}") for values in (mixed, alone))
            assert with_them == without, (key, row)
    missed = [
        line["sphere"] + line["cylinder"] / 2 - line["predicted_sphere"] - line["predicted_cylinder"] / 2
        for line in lines + irregular
    ]
    assert of(mixed, "lens_rows", "lens_mixed_error") == pytest.approx(np.mean(missed), abs=1e-9)
    assert of(alone, "lens_rows", "lens_mixed_error") == pytest.approx(np.mean(missed[:25]), abs=1e-9)
    assert abs(np.mean(missed) - np.mean(missed[:25])) > 0.5


def test_give_or_take_is_of_the_lens_alone(register: Model) -> None:
    """Limits from the errors of the own eyes with the constant in use; a lens that scatters changes no other lens."""
    own = of_one_lens(60, seed=9)[:22]
    other = [
        line | {"lens": "Wild lens", "file_number": f"W{n}"} for n, line in enumerate(of_one_lens(60, seed=5)[:22])
    ]
    for number, line in enumerate(other):
        line["sphere"] += 3 * (-1) ** number
    values = evaluated(register, own + other)
    errors = [line["sphere"] + line["cylinder"] / 2 - predictions(line)["predicted_srkt"] for line in own]
    slope = (expected_srkt(own, 118.28) - expected_srkt(own, 118.26)) / 0.02
    wanted = 1.96 * np.std(errors, ddof=1) / math.sqrt(22) / abs(slope)
    assert of(values, "lens_rows", "srkt_give_or_take") == pytest.approx(wanted, rel=0.03)  # a chord for the tangent
    assert of(values, "lens_rows", "srkt_give_or_take", 1) > 3 * wanted
    alone = evaluated(register, own)
    assert of(values, "lens_rows", "srkt_give_or_take") == of(alone, "lens_rows", "srkt_give_or_take")


def test_the_incision_that_was_made_is_found(register: Model) -> None:
    """Each cornea flattened by 0.30 D along its own incision: mean 0.30, spread 0, nothing at 45 degrees."""
    lines = invented_lines(40, seed=4)
    for line in lines:
        before = line["ring_cylinder_before"] = line.get("ring_cylinder_before", 1.0)
        axis = line["ring_axis_before"] = line.get("ring_axis_before", 10.0)
        after = before * np.exp(2j * np.radians(axis)) - 0.30 * np.exp(2j * np.radians(line["incision_meridian"]))
        line |= {"ring_cylinder_after": abs(after), "ring_axis_after": math.degrees(np.angle(after)) / 2 % 180}
        line["incision_sia"] = 0.1
    values = evaluated(register, lines)
    assert of(values, "plan", "flattening_mean") == pytest.approx(0.30, abs=1e-9)
    assert of(values, "plan", "flattening_sd") == pytest.approx(0, abs=1e-9)
    assert of(values, "plan", "oblique_mean") == pytest.approx(0, abs=1e-9)
    assert of(values, "plan", "planned_flattening") == pytest.approx(0.1)


def test_a_group_has_the_statistics_of_its_own_lines(register: Model) -> None:
    """The table by diagnosis is the table of all eyes for a register with those eyes alone."""
    lines = invented_lines(60, seed=6)
    cones = [line for line in lines if line["corneal_diagnosis"] == "keratoconus"]
    all_eyes, alone = evaluated(register, lines), evaluated(register, cones)
    for group, series in (
        ("eyes_counted", "eyes_counted"),
        ("group_mean", "mean_error"),
        ("group_sd", "sd_error"),
        ("group_mean_absolute", "mean_absolute"),
        ("group_median_absolute", "median_absolute"),
        ("group_root_mean_square", "root_mean_square"),
        ("share_half", "share_half"),
        ("wilson_low_one", "wilson_low_one"),
    ):
        assert of(all_eyes, "diagnoses", group, 1) == pytest.approx(of(alone, "series", series), abs=1e-9), group
