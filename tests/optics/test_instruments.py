"""Instruments on surfaces whose readings are known, and how readings scatter."""

from __future__ import annotations

import numpy as np
import pytest

from builder.planner.optics.corneas import Corneas, draw, keratometric, kinds
from builder.planner.optics.instruments import (
    MAP_DEGREES,
    Reading,
    axial_curvature,
    corneal_map,
    exact,
    noisy,
    peak,
    read,
    repeats,
    ring,
    total_paraxial,
    total_traced,
    waves,
    zone,
)
from builder.planner.optics.surfaces import Surface, Toric, Wave, column, conic
from builder.planner.reference.corneal_map import disc_mean, ring_waves


def sphere(front: float = 7.7, back: float = 6.8, thickness: float = 0.5) -> Corneas:
    surfaces = (Surface([conic([radius])], column(depth)) for radius, depth in ((front, 0.0), (back, thickness)))
    return Corneas("regular", *surfaces, column(thickness), {})


@pytest.mark.parametrize("diameter", [2.4, 3.0, 3.5])
def test_a_sphere_reads_its_power_on_every_ring(diameter: float) -> None:
    front = sphere().front
    for found in (ring(front, diameter), zone(front, diameter)):
        assert np.allclose([found.mean[0], found.flat()[0], found.steep()[0]], 337.5 / 7.7, atol=1e-9)
    assert np.allclose([*corneal_map(front).values()], 337.5 / 7.7, atol=1e-6)
    assert peak(front) == pytest.approx(337.5 / 7.7)


def test_the_axial_radius_of_an_ellipsoid() -> None:
    """Textbook: the sagittal radius of a conic is sqrt(R^2 - Q r^2) at r from its axis."""
    radius, q, away = 7.8, -0.3, np.array([0.5, 1.5, 3.0])
    found = axial_curvature(Surface([conic([radius], q)], column(0.0)), away, np.array([0.0, 77.0]))
    assert np.allclose(1 / found[0], np.sqrt(radius**2 - q * away**2)[:, None], atol=1e-12)


def test_a_toric_reads_both_its_powers_and_the_steep_meridian() -> None:
    """The steep arc of 7.2 mm at 40 degrees, 7.8 mm across: mean, cylinder, axis on a small ring."""
    front = Surface([Toric(column(7.2), column(7.8), column(40.0))], column(0.0))
    found = ring(front, 0.05)
    assert found.steep()[0] == pytest.approx(337.5 / 7.2, abs=1e-3)
    assert found.flat()[0] == pytest.approx(337.5 / 7.8, abs=1e-3)
    assert found.axis()[0] == pytest.approx(40, abs=1e-6)


def test_a_tilted_cornea_reads_almost_as_a_straight_one() -> None:
    """The instrument looks along the normal of the middle: a tilt alone (a wave of first order) is no power."""
    straight, tilt = sphere().front, Wave(column(0.02), column(30.0), 1, 1)
    tilted = Surface([*straight.parts, tilt], column(0.0))
    rings = (keratometric() * axial_curvature(surface, [0.5, 1.5], MAP_DEGREES) for surface in (straight, tilted))
    assert np.allclose(*rings, atol=0.02)


def test_gullstrand_s_cornea_has_its_printed_power() -> None:
    """7.7 and 6.8 mm, 0.5 mm thick: 43.05 D (gullstrand, from memory), by the formula and by light near the axis."""
    assert round(float(total_paraxial(sphere(), 0.1).mean[0]), 2) == 43.05
    # Traced: the aqueous over the distance to the second principal plane; from the vertex it is the same to 0.01 D.
    assert float(total_traced(sphere(), 0.02).mean[0]) == pytest.approx(43.05, abs=0.01)


def test_a_traced_total_reads_half_a_dioptre_high_in_regular_corneas() -> None:
    """What an earlier bench of another hand found: some 0.5 D over 3 mm and 0.75 D over 4 mm above the paraxial one."""
    found = exact(draw("regular", 300, np.random.default_rng(5)))
    gaps = [np.mean(found[f"traced_{d}"].mean - found[f"total_{d}"].mean) for d in (3, 4)]
    assert gaps[0] == pytest.approx(0.5, abs=0.15)
    assert gaps[1] > gaps[0]


def test_ring_and_map_agree_with_the_reference_s_own_arithmetic() -> None:
    cornea = draw("paracentral_cone_1", 20, np.random.default_rng(2))
    typed = corneal_map(cornea.front)
    waves_ = ring_waves(typed["map_d3"])
    found = waves(typed["map_d3"], MAP_DEGREES)
    assert np.allclose(found.mean, waves_.mean)
    assert np.allclose(np.hypot(found.x, found.y) / 2, np.hypot(waves_.cosine[:, 1], waves_.sine[:, 1]))
    # The mean over a disc by the reference's straight lines between rings, and by the instrument's many rings.
    means = np.stack([typed[key].mean(-1) for key in ("map_d1", "map_d2", "map_d3")], axis=-1)
    assert np.allclose(disc_mean(typed["map_center"][:, 0], means), zone(cornea.front, 3.0).mean, atol=0.1)


def test_an_axis_is_where_the_power_is_highest() -> None:
    turned = Reading(np.array([44.0]), 2 * np.cos(2 * np.radians([30.0])), 2 * np.sin(2 * np.radians([30.0])))
    assert turned.axis()[0] == pytest.approx(30)
    assert (turned.flat()[0], turned.steep()[0]) == pytest.approx((43.0, 45.0))
    degrees = np.arange(0, 360, 10.0)
    again = waves(44 + np.cos(2 * np.radians(degrees - 30))[None], degrees)
    assert np.allclose([again.mean, again.x, again.y], [turned.mean, turned.x, turned.y])


@pytest.mark.parametrize("kind", ["regular", "central_cone_2"])
def test_readings_scatter_as_the_figures_say(kind: str) -> None:
    cornea, sd = draw(kind, 2000, np.random.default_rng(11)), repeats(kind)
    true, found = exact(cornea), read(cornea, np.random.default_rng(12))
    mean = (found["ring_flat"] + found["ring_steep"]) / 2 - true["ring_3.0"].mean
    assert mean.std() == pytest.approx(sd["power"], rel=0.06)
    assert abs(mean.mean()) < 4 * sd["power"] / np.sqrt(2000)
    assert (found["peak_k"] - peak(cornea.front)).std() == pytest.approx(sd["peak"], rel=0.06)
    for side, exact_radius in (("flat", 40 / true["back"].flat()), ("steep", 40 / true["back"].steep())):
        # A little more where the eye is steeper than the mean; a cylinder near 0 can only be read too large.
        scatter = found[f"back_{side}_radius"] - exact_radius
        assert scatter.std() == pytest.approx(sd["back_radius"], rel=0.25)


def test_noise_has_the_spread_asked_for() -> None:
    still = Reading(*np.zeros((3, 20_000)))
    found = noisy(still, 0.1, 0.3, np.random.default_rng(4))
    assert [part.std() for part in found] == pytest.approx([0.1, 0.3, 0.3], rel=0.03)


@pytest.mark.parametrize("kind", kinds())
def test_every_kind_is_read_whole(kind: str) -> None:
    found = read(draw(kind, 30, np.random.default_rng(1)), np.random.default_rng(2))
    assert all(value.shape == ((30, 12) if key.startswith("map") else (30,)) for key, value in found.items())
    assert not any(np.isnan(value).any() for value in found.values())
    for source in ("ring", "zone3", "zone4", "second", "total3", "total4"):
        assert np.all(found[f"{source}_flat"] <= found[f"{source}_steep"])
    assert np.all(found["back_flat_radius"] >= found["back_steep_radius"])
