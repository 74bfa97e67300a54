"""The length rule: the published lines, their laws, and the four powers of a long eye.

Coefficients of wang2011 and check values are from memory, own arithmetic (clinical constants' sources).
"""

import numpy as np
import pytest

from builder.planner.reference import lens_position, vergence
from builder.planner.reference.lens_length import REGRESSION, adjusted_length_wang2011, share_of_adjustment

# AL 28.0, K 44, goal -0.5, ACD 3.5; A 118.9, SF 1.733, pACD 5.490, a0 1.839: as measured, adjusted (D).
POWERS = {
    "Holladay 1": (7.1435, 8.6432),
    "SRK/T": (7.8730, 8.8437),
    "Haigis": (7.8904, 9.0918),
    "Hoffer Q": (7.1181, 8.6449),
}
# Lines as printed: slope and offset (mm) on the measured length.
LINES = {
    "Holladay 1": (0.8289, 4.2663),
    "SRK/T": (0.8544, 3.7222),
    "T2": (0.8544, 3.7222),
    "Haigis": (0.9286, 1.562),
    "Hoffer Q": (0.8530, 3.5794),
}


def eye(name, length, k, a0=1.839):
    """Kc (D), L and d (mm) of a formula, ACD 3.5 mm."""
    place = {
        "SRK/T": lambda: lens_position.position_srkt_retzlaff1990(length, k, 118.9),
        "Holladay 1": lambda: lens_position.position_holladay1988(length, k, 1.733),
        "Hoffer Q": lambda: lens_position.position_hoffer1993(length, k, 5.490),
        "Haigis": lambda: lens_position.position_haigis2000(length, 3.5, a0),
        "T2": lambda: lens_position.position_sheard2010(length, k, 118.9),
    }[name]()
    return vergence.corneal_power(name, k), vergence.optical_length(name, length), place.position


@pytest.mark.parametrize("name", POWERS)
def test_powers_of_a_long_eye(name):
    """As measured and adjusted, to the last digit; the four draw together (from memory, own arithmetic)."""
    measured, adjusted = POWERS[name]
    assert vergence.lens_power(*eye(name, 28.0, 44.0), -0.5) == pytest.approx(measured, abs=0.00005)
    used = adjusted_length_wang2011(name, 28.0)
    assert vergence.lens_power(*eye(name, used, 44.0), -0.5) == pytest.approx(adjusted, abs=0.00005)


@pytest.mark.parametrize("name", LINES)
def test_adjusted_length_is_the_printed_line_from_26_mm_on(name):
    slope, offset = LINES[name]
    for length in (26.0, 27.5, 30.0, 34.0):
        assert adjusted_length_wang2011(name, length) == pytest.approx(slope * length + offset, abs=1e-12)


@pytest.mark.parametrize("name", REGRESSION)
def test_adjusted_length_is_continuous_and_never_longer(name):
    """At 25 mm and below it is the measured length; nowhere does it jump, exceed the measured one or turn back."""
    lengths = np.linspace(17, 36, 19001)
    used = adjusted_length_wang2011(name, lengths)
    np.testing.assert_array_equal(used[lengths <= 25], lengths[lengths <= 25])
    assert np.all(used <= lengths)
    step = np.diff(used)
    assert step.max() <= 0.001 + 1e-12
    assert step.min() > 0


def test_share_of_the_adjustment_rises_over_a_millimetre():
    np.testing.assert_allclose(share_of_adjustment([24.0, 25.0, 25.5, 26.0, 29.0]), [0, 0, 0.5, 1, 1])


def test_formulas_draw_together_with_adjusted_lengths():
    """One lens at 27, 28 and 29 mm, K 43.5, each formula with a constant of its own (a0 0.5 mm below A's conversion):
    the refractions spread over 0.44 to 0.58 D as measured, over less than 0.3 D adjusted. With the converted a0, which
    asks for too much lens in every eye, 0.4 D are left at 27 mm.
    """
    for length in (27.0, 28.0, 29.0):
        lens = vergence.lens_power(*eye("SRK/T", adjusted_length_wang2011("SRK/T", length), 43.5), -0.5)
        spread = []
        for use in (lambda _, measured: measured, adjusted_length_wang2011):
            found = [vergence.refraction(*eye(name, use(name, length), 43.5, 1.33), lens) for name in REGRESSION]
            spread.append(float(np.ptp(found)))
        assert spread[0] > 0.4
        assert spread[1] < 0.3
