"""Corneal power against printed values; tolerance half a unit of the last printed digit, unless a test says why not."""

import numpy as np
import pytest

from builder.planner.reference import after_laser, keratometry
from builder.planner.reference.constants import CONSTANTS


def test_schematic_cornea_of_gullstrand():
    """Radii 7.7 and 6.8 mm, 0.5 mm thick, 1.376 and 1.336 (gullstrand, from memory)."""
    indices = {"index_cornea": 1.376, "index_aqueous": 1.336}
    assert keratometry.front_power(7.7, 1.376) == pytest.approx(48.83, abs=0.005)
    assert keratometry.back_power(6.8, **indices) == pytest.approx(-5.88, abs=0.005)
    assert keratometry.gaussian_power_gullstrand(7.7, 6.8, 0.5, **indices) == pytest.approx(43.05, abs=0.005)


def test_schematic_cornea_of_le_grand():
    """Radii 7.8 and 6.5 mm, 0.55 mm thick, 1.3771 and 1.3374 (Le Grand's full theoretical eye, from memory)."""
    indices = {"index_cornea": 1.3771, "index_aqueous": 1.3374}
    assert keratometry.front_power(7.8, 1.3771) == pytest.approx(48.35, abs=0.005)
    assert keratometry.back_power(6.5, **indices) == pytest.approx(-6.11, abs=0.005)
    assert keratometry.gaussian_power_gullstrand(7.8, 6.5, 0.55, **indices) == pytest.approx(42.36, abs=0.005)


def test_keratometry_over_reads_a_steep_cone_but_not_a_flat_back():
    """K - G of radii 7.9/8.2 and 4.7/3.1 mm: the two ends of the published range (pinero2014).

    The thickness is not printed; over 0.4 to 0.6 mm the flat end stays within its digit, the steep end at 0.5 mm.
    """
    front = np.array([7.9, 7.9, 7.9, 4.7])
    power = keratometry.gaussian_power_gullstrand(front, np.array([8.2, 8.2, 8.2, 3.1]), np.array([0.4, 0.5, 0.6, 0.5]))
    over = keratometry.over_reading_pinero2014(keratometry.keratometric_power_of_radius(front), power)
    np.testing.assert_allclose(over, [-0.1, -0.1, -0.1, 4.3], atol=0.05)


def test_index_of_a_normal_cornea_lies_where_it_is_published():
    """The published range of exact keratometric indices is 1.3153 to 1.3396 (camps2014)."""
    assert 1.3153 < keratometry.standard_index_lioubrennan1997() < 1.3396


def test_normal_eye_keeps_its_k():
    """By definition of the equivalent K; the normal radii are lioubrennan1997's, from memory."""
    k = keratometry.keratometric_power_of_radius(CONSTANTS.normal_front_radius)
    back = CONSTANTS.normal_back_radius
    corrected = keratometry.back_corrected_k(k, back - 0.1, back + 0.1, CONSTANTS.normal_thickness)
    assert corrected == pytest.approx(k, abs=1e-12)


def test_share_that_a_normal_eye_over_reads_is_the_constant():
    """The typed share, 2.7 % of K, is the normal eye's K - G to half its last digit (lioubrennan1997, from memory)."""
    k = keratometry.keratometric_power_of_radius(CONSTANTS.normal_front_radius)
    power = keratometry.gaussian_power_gullstrand(
        CONSTANTS.normal_front_radius, CONSTANTS.normal_back_radius, CONSTANTS.normal_thickness
    )
    assert keratometry.over_reading_pinero2014(k, power) / k == pytest.approx(0.027, abs=5e-4)
    assert abs(keratometry.over_reading_excess(k, power)) < 5e-4 * k


def test_total_power_of_a_normal_cornea_is_its_k_again():
    """A device that gives a normal cornea its own equivalent power gives back its K (definition)."""
    power = keratometry.gaussian_power_gullstrand(7.77, 6.40, 0.50)
    assert keratometry.total_power_equivalent_k(power - 1, power + 1) == pytest.approx(337.5 / 7.77, abs=1e-12)


def test_thickness_term_and_back_power_are_seen_apart():
    """A thin cornea's power is the sum of its surfaces; thickness adds, the back being negative (physics)."""
    surfaces = keratometry.front_power(6.5) + keratometry.back_power(5.0)
    assert keratometry.gaussian_power_gullstrand(6.5, 5.0, 0.0) == pytest.approx(surfaces, abs=1e-12)
    assert keratometry.gaussian_power_gullstrand(6.5, 5.0, 0.5) > surfaces


def test_readings_of_any_index_become_one_k():
    """45.00 D read with 1.3375 is 7.5 mm; a device with 1.332 reads 44.267 D there (definition)."""
    assert keratometry.radius_of_k(45.0) == pytest.approx(7.5, abs=1e-12)
    assert keratometry.keratometric_power(332 / 7.5, 1.332) == pytest.approx(45.0, abs=1e-12)


def test_myopic_laser_example_of_haigis():
    """Measured 8.73 mm: corrected 9.0 mm, 37.50 D (haigis2008).

    The printed K belongs to the printed, rounded radius (337.5/9.0), so it is compared through that radius; unrounded
    the rule gives 37.51 D.
    """
    radius = after_laser.radius_haigis2008(8.73)
    assert radius == pytest.approx(9.0, abs=0.05)
    assert keratometry.keratometric_power_of_radius(np.round(radius, 1)) == pytest.approx(37.50, abs=0.005)
    whole = after_laser.k_haigis2008(keratometry.keratometric_power_of_radius(8.73))
    assert whole == pytest.approx(37.50, abs=0.01)


def test_history_example():
    """K 42 before, mean refraction -9.50 to +0.25 D at 14 mm: 33.36 D (worked textbook example, from memory)."""
    assert after_laser.k_history(42.0, -9.50, 0.25, 14.0) == pytest.approx(33.36, abs=0.005)


@pytest.mark.parametrize(
    ("rule", "last_inside", "first_outside"),
    [
        (after_laser.k_shammas2003, 48.569, 48.57),
        (after_laser.k_shammas2013, 42.751, 42.75),
        (after_laser.k_haigis2008, 34.0, 33.999),
        (after_laser.k_haigis2008, 48.5, 48.501),
        (after_laser.k_wang2004, 53.499, 53.5),
    ],
)
def test_laser_rule_is_silent_outside_its_range(rule, last_inside, first_outside):
    """Limits are settings of ours beside shammas2003, shammas2013, haigis2008 and wang2004 (from memory)."""
    assert np.isfinite(rule(last_inside))
    assert np.isnan(rule(first_outside))


def test_laser_rules_correct_in_the_right_direction():
    """After myopic laser the true K is lower than read, after hyperopic laser higher (shammas2003, shammas2013)."""
    k = np.linspace(36.0, 42.0, 25)
    for rule in (after_laser.k_shammas2003, after_laser.k_haigis2008, after_laser.k_wang2004):
        assert np.all(rule(k) < k)
    assert np.all(after_laser.k_shammas2013(k + 7.0) > k + 7.0)
