"""The formula in lead: chosen by the cornea, without a step of the lens power that a patient would notice."""

from typing import Any

import numpy as np
import pytest

from builder.engine.model import Model
from tests.support.walked import lead_over

DIAGNOSES = (
    "regular",
    "keratoconus",
    "ectasia_after_laser",
    "pellucid",
    "after_myopic_laser",
    "after_hyperopic_laser",
    "radial_cuts",
    "graft",
    "other",
)
REGULAR, CONES, RESHAPED = (0.49, 22.0, 48.45), (0.35, 25.0, 48.95), 0.09  # largest step (D), at mm and D
LENGTHS = np.round(np.arange(21, 30.01, 0.25), 2)
KS = np.round(np.arange(40, 62.001, 0.05), 2)


def steps(model: Model, diagnosis: str, **eye: float) -> tuple[Any, Any]:
    """Steps of the exact power (D) from one K to the next, and where the same formula leads on both sides."""
    values = lead_over(model.spec.words, LENGTHS, KS, diagnosis, **eye)
    power, name = values.get("eyes", "exact_power"), values.get("eyes", "lead_name")
    assert not np.isnan(power).any()
    return np.diff(power, axis=1), name[:, 1:] == name[:, :-1]


@pytest.mark.parametrize("diagnosis", DIAGNOSES)
def test_exact_power_has_no_cliff(model: Model, diagnosis: str) -> None:
    """K from 40 to 62 D in steps of 0.05 at 21 to 30 mm, goal -1, ACD 3.45: no step over 0.5 D, none up by 0.1 D while
    a formula stays in lead. Largest: 0.49 D at 22 mm and 48.45 D (regular, SRK/T to T2) and 0.35 D at 25 mm and
    48.95 D (cones, where SRK/T's root ends and the population K takes over); after laser 0.09 D.
    """
    step, same = steps(model, diagnosis)
    assert np.abs(step).max() <= 0.5
    assert step[same].max() <= 0.1
    if diagnosis in ("regular", "keratoconus", "pellucid", "graft", "other"):
        largest, length, k = REGULAR if diagnosis == "regular" else CONES
        row, place = np.unravel_index(np.abs(step).argmax(), step.shape)
        assert np.abs(step).max() == pytest.approx(largest, abs=0.005)
        assert (LENGTHS[row], KS[place + 1]) == pytest.approx((length, k), abs=0.051)
    else:
        assert np.abs(step).max() == pytest.approx(RESHAPED, abs=0.005)


def test_a_shallow_chamber_and_a_deep_goal_leave_a_larger_step(model: Model) -> None:
    """Said openly: where the population K takes over in a cone the step is 0.60 D with an ACD of 2.8 and 0.56 D with a
    goal of -2; without an ACD, T2 leaving the safe side costs 1.7 D. A missing ACD is warned of for that reason.
    """
    for eye, most in (({"depth": 2.8}, 0.61), ({"goal": -2.0}, 0.57), ({"depth": np.nan}, 1.67)):
        step, _ = steps(model, "keratoconus", **eye)
        assert 0.5 < np.abs(step).max() < most


def test_the_safe_side_asks_for_the_strongest_lens(model: Model) -> None:
    """Of T2 up to a position K of 52, Holladay 1 and Haigis; the lead's power is the greatest of them."""
    values = lead_over(model.spec.words, LENGTHS, KS, "keratoconus")
    power, k = values.get("formulas", "goal_power"), values.get("eyes", "position_k")
    voices = np.stack([power[..., 1], power[..., 3], np.where(k <= 52 + 1e-9, power[..., 4], np.nan)], axis=-1)
    np.testing.assert_array_equal(values.get("eyes", "exact_power"), np.nanmax(voices, axis=-1))


def test_a_regular_cornea_is_led_by_srkt_until_its_root_is_near(model: Model) -> None:
    """Cw up to 1.75 r: SRK/T; past it T2, which has no root (settings)."""
    values = lead_over(model.spec.words, LENGTHS, KS, "regular")
    ratio, name = values.get("eyes", "srkt_width_ratio"), values.get("eyes", "lead_name")
    np.testing.assert_array_equal(name, np.where(ratio <= 1.75 + 1e-9, "SRK/T", "T2"))
    np.testing.assert_array_equal(values.get("eyes", "position_k"), values.get("eyes", "mean_k"))


@pytest.mark.parametrize("diagnosis", ["after_myopic_laser", "ectasia_after_laser", "radial_cuts"])
def test_a_reshaped_cornea_is_led_by_haigis(model: Model, diagnosis: str) -> None:
    """Else, without an ACD, by Holladay 1 with two K (soare2022)."""
    with_depth = lead_over(model.spec.words, LENGTHS, KS, diagnosis).get("eyes", "lead_name")
    without = lead_over(model.spec.words, LENGTHS, KS, diagnosis, depth=np.nan).get("eyes", "lead_name")
    assert set(with_depth.flat) == {"Haigis"}
    assert set(without.flat) == {"Holladay 1"}
