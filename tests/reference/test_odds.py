"""The odds by other methods: complex-step slopes, simulation with a fixed seed, and laws that must hold."""

from typing import Any

import numpy as np
import pytest

from builder.planner.reference import odds, vergence
from builder.planner.reference.constants import CONSTANTS

# Invented eyes: optical length, Kc, position (mm, D, mm), lens power (D); from a flat long eye to a steep short one.
EYES = [
    (26.5, 40.2, 5.6, 14.0),
    (23.5, 43.2, 5.1, 21.5),
    (22.4, 47.0, 4.9, 19.0),
    (24.1, 54.5, 5.4, 3.5),
    (23.0, 60.0, 5.0, 0.5),
]
SDS = (CONSTANTS.sd_length_optical, 1.25, CONSTANTS.sd_position, CONSTANTS.sd_power, CONSTANTS.sd_refraction)


def refraction(length: Any, cornea: Any, position: Any, power: Any) -> Any:
    """Spectacle refraction (D) by vergence, in real or complex numbers."""
    light = 1000 * CONSTANTS.index_aqueous
    front = light / (length - position) - power
    at_cornea = light * front / (light + position * front) - cornea
    return at_cornea / (1 + CONSTANTS.vertex_of_formulas * at_cornea / 1000)


def slopes_by_complex_step(eye: tuple[float, ...], tiny: float = 1e-30) -> list[float]:
    """Exact slopes by the complex-step derivative: no difference of near numbers."""
    moved = [[value + (1j * tiny if n == m else 0) for m, value in enumerate(eye)] for n in range(len(eye))]
    return [refraction(*one).imag / tiny for one in moved]


def simulate(eye: tuple[float, ...], eyes: int, seed: int) -> Any:
    """Refractions (D) of simulated eyes: length, cornea, position, power and refraction scatter, with a fixed seed."""
    draw = np.random.default_rng(seed)
    scattered = [value + sd * draw.standard_normal(eyes) for value, sd in zip(eye, SDS, strict=False)]
    return refraction(*scattered) + SDS[-1] * draw.standard_normal(eyes)


def central(eye: tuple[float, ...]) -> list[float]:
    """Slopes as the cells take them: central differences with the half-steps of the constants."""
    steps = (CONSTANTS.step_length, CONSTANTS.step_cornea, CONSTANTS.step_position, CONSTANTS.step_power)
    found = []
    for n, step in enumerate(steps):
        up, down = list(eye), list(eye)
        up[n] += step
        down[n] -= step
        ends = [vergence.refraction(k, length, d, p) for length, k, d, p in (up, down)]
        found.append(float(ends[0] - ends[1]) / (2 * step))
    return found


@pytest.mark.parametrize("eye", EYES)
def test_central_differences_are_the_exact_slopes(eye: tuple[float, ...]) -> None:
    """Half-steps this small leave less than 0.1 % of a slope, far below what any part's uncertainty is known to."""
    assert central(eye) == pytest.approx(slopes_by_complex_step(eye), rel=1e-3)


@pytest.mark.parametrize("eye", EYES)
def test_error_budget_is_what_a_simulation_scatters(eye: tuple[float, ...]) -> None:
    """Root of the summed squares within 2 % of 200,000 simulated eyes:
    sampling 0.2 %, the rest is the bend of the vergence."""
    budget = np.linalg.norm([slope * sd for slope, sd in zip([*central(eye), 1.0], SDS, strict=True)])
    assert simulate(eye, 200_000, seed=7).std() == pytest.approx(budget, rel=0.02)


@pytest.mark.parametrize("eye", EYES)
def test_chances_are_the_simulated_shares(eye: tuple[float, ...]) -> None:
    """Within 1.5 percent points of the simulation:
    the normal curve forgets a slight skew, which the page calls 'about'."""
    seen = simulate(eye, 200_000, seed=11)
    length, cornea, position, power = eye
    mean = float(vergence.refraction(cornea, length, position, power))
    sd = np.linalg.norm([slope * s for slope, s in zip([*central(eye), 1.0], SDS, strict=True)])
    for reach in (0.5, 1.0):
        assert float(odds.chance_within(reach, sd)) == pytest.approx(np.mean(np.abs(seen - mean) <= reach), abs=0.015)
    assert float(odds.chance_above(0.25, mean, sd)) == pytest.approx(np.mean(seen > 0.25), abs=0.015)


def test_normal_curve_is_the_tabulated_one() -> None:
    """Phi(1.96) = 0.9750, Phi(1.2816) = 0.9000, Phi(-1) = 0.1587 (tables of the normal curve in any textbook)."""
    assert odds.normal_cdf([1.96, 1.2816, -1.0, 0.0]) == pytest.approx([0.9750, 0.9000, 0.1587, 0.5], abs=5e-5)


def test_more_uncertainty_never_raises_within() -> None:
    """A law: as sd grows, fewer eyes end near the prediction."""
    chances = odds.chance_within(0.5, np.linspace(0.2, 4, 200))
    assert (np.diff(chances) < 0).all()


def test_a_lower_goal_never_raises_the_hyperopic_chance() -> None:
    """A law: as the predicted refraction goes myopic, fewer eyes end hyperopic, at any sd."""
    mean = np.linspace(1, -4, 200)[:, None]
    chances = odds.chance_above(0.25, mean, np.linspace(0.3, 3, 10))
    assert (np.diff(chances, axis=0) <= 0).all()


def test_the_safe_goal_leaves_one_in_ten() -> None:
    """Aiming at 0.25 - 1.2816 sd leaves a chance of 10 % above 0.25 (definition)."""
    sd = np.linspace(0.3, 3, 10)
    goal = CONSTANTS.hyperopic_from - CONSTANTS.one_in_ten * sd
    assert odds.chance_above(0.25, goal, sd) == pytest.approx(0.10, abs=1e-5)


def test_rotation_ratio_where_the_benefit_ends() -> None:
    """cos 2b = r/2: 30 degrees for equal cylinders, 20.7 for r 1.5 (felipe2011):
    there the cylinder is as large as without."""
    for ratio, printed in ((1.0, 30.0), (1.5, 20.7)):
        turned = abs(1 - ratio * np.exp(2j * np.deg2rad(np.degrees(np.arccos(ratio / 2)) / 2)))
        assert turned == pytest.approx(1)
        assert np.degrees(np.arccos(ratio / 2)) / 2 == pytest.approx(printed, abs=0.05)
