"""Waves and disc means of a typed map, against trigonometry, quadrature and a general Fourier transform."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from builder.planner.reference.corneal_map import DEGREES, disc_mean, ring_waves, unlike_neighbours

RING = 45 + 3 * np.cos(np.deg2rad(DEGREES - 270)) + 1.5 * np.cos(np.deg2rad(2 * (DEGREES - 85)))
RING = RING + 0.3 * np.cos(np.deg2rad(3 * (DEGREES - 30)))


def test_a_ring_built_from_waves_gives_the_waves_back() -> None:
    """45 + 3 cos(s-270) + 1.5 cos 2(s-85) + 0.3 cos 3(s-30): 45, 3 toward 270, 3.00 D at 85, 0.30 (trigonometry)."""
    waves = ring_waves(RING)
    first, second = waves.cosine[0] + 1j * waves.sine[0], waves.cosine[1] + 1j * waves.sine[1]
    assert waves.mean == pytest.approx(45)
    assert abs(first) == pytest.approx(3)
    assert np.degrees(np.angle(first)) % 360 == pytest.approx(270)
    assert 2 * abs(second) == pytest.approx(3)
    assert np.degrees(np.angle(second)) / 2 % 180 == pytest.approx(85)
    assert np.hypot(waves.cosine[2:], waves.sine[2:]) == pytest.approx([0.3, 0, 0], abs=1e-12)


def test_waves_are_those_of_a_discrete_fourier_transform() -> None:
    """Least squares on twelve values agree with numpy's transform, a general-purpose library."""
    rings = np.random.default_rng(4).normal(45, 2, (50, 12))
    waves = ring_waves(rings)
    spectrum = np.fft.rfft(rings, axis=-1) / 6
    assert waves.mean == pytest.approx(rings.mean(axis=-1))
    assert waves.cosine == pytest.approx(spectrum[:, 1:6].real)
    assert waves.sine == pytest.approx(-spectrum[:, 1:6].imag)


def test_an_incomplete_ring_has_no_waves() -> None:
    """One missing value leaves the ring out, and only that ring."""
    waves = ring_waves(np.stack([RING, np.where(DEGREES == 60, np.nan, RING)]))
    assert waves.mean[0] == pytest.approx(45)
    assert np.isnan(waves.mean[1])
    assert np.isnan(waves.cosine[1]).all()


@pytest.mark.parametrize("rings", [3, 4])
def test_disc_mean_is_the_integral_over_the_area(rings: int) -> None:
    """2/R^2 times the integral of F r dr, with F straight between rings, by adaptive quadrature (scipy)."""
    means = np.array([46.0, 45.2, 44.1, 43.7, 42.0])[: rings + 1]
    radii = np.arange(rings + 1) / 2
    by_steps = sum(quad(lambda r: np.interp(r, radii, means) * r, a, b)[0] for a, b in pairwise(radii))
    assert disc_mean(means[0], means[1:]) == pytest.approx(2 * by_steps / radii[-1] ** 2)


def test_disc_mean_weights_are_the_printed_ones() -> None:
    """Weights 1, 6, 12, 8 of 27 and 1, 6, 12, 18, 11 of 48, as the project's clinical basis prints them."""
    for weights in ([1, 6, 12, 8], [1, 6, 12, 18, 11]):
        found = [float(disc_mean(row[0], row[1:])) for row in np.eye(len(weights))]
        assert found == pytest.approx(np.array(weights) / sum(weights))


def test_a_slip_stands_out_from_its_neighbours() -> None:
    """A value 10 D off is farthest from the mean of its neighbours, by 10 D and the ring's own bend."""
    slip = RING + 10 * (DEGREES == 120)
    off = unlike_neighbours(slip)
    assert DEGREES[off.argmax()] == 120
    assert off.max() == pytest.approx(10, abs=2)
    assert unlike_neighbours(RING).max() < 2


def test_a_cone_on_the_steep_meridian_has_asymmetry_without_skew() -> None:
    """Its steep half-meridians lie on one line, yet it is not regular: asymmetry is seen where skew is not."""
    cone = 48 + 2 * np.cos(np.deg2rad(DEGREES - 90)) + 1.5 * np.cos(np.deg2rad(2 * (DEGREES - 90)))
    waves = ring_waves(cone)
    first, second = (waves.cosine[n] + 1j * waves.sine[n] for n in (0, 1))
    assert np.degrees(np.angle(first)) == pytest.approx(90)
    assert np.degrees(np.angle(second)) / 2 % 180 == pytest.approx(90)  # -90 is the same meridian
    assert abs(first) / (2 * abs(second)) > 0.66
