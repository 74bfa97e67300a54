"""Whole eyes: refraction through a small pupil against paraxial matrices, pupils, meanings of focus, lenses."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from builder.planner.optics.eye import Eye, Pupil, disc, trace_out
from builder.planner.optics.focus import MEANINGS, Refraction, refraction, refractions
from builder.planner.optics.lenses import IdealLens, ThickLens, toric_lens
from builder.planner.optics.rays import power
from builder.planner.optics.surfaces import Bump, Surface, Toric, Wave, biconic, column, conic
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.toric import refraction_toric_langenbucher2004, vergence_at_cornea
from builder.planner.reference.vectors import power_matrix, power_vector_of_matrix, propagate

EYES = 12
AQUEOUS, CORNEA = CONSTANTS.index_aqueous, CONSTANTS.index_cornea
DRAW = np.random.default_rng(20)
FLAT, STEEP, AXIS, LENGTH, MEAN, CYLINDER, LENS_AXIS, DEPTH = (
    DRAW.uniform(*ends, EYES)
    for ends in ((7.0, 8.2), (6.2, 7.0), (0, 180), (21.5, 27), (8, 24), (0, 6), (0, 180), (4.2, 6.0))
)
BACK_FLAT, BACK_STEEP, BACK_AXIS = FLAT * 0.84, STEEP * 0.82, AXIS + DRAW.uniform(-20, 20, EYES)
THICKNESS = 0.5
SMALL = 0.02  # mm


def pupil(diameter: float, x: float = 0.0, y: float = 0.0) -> Pupil:
    return Pupil(column(diameter), column(x), column(y))


def cornea(q: float = -0.2) -> tuple[Surface, Surface]:
    front = Surface([biconic(FLAT, STEEP, AXIS, q, q)], column(0.0))
    return front, Surface([biconic(BACK_FLAT, BACK_STEEP, BACK_AXIS, q, q)], column(THICKNESS))


def eyes(q: float = -0.2) -> Eye:
    return Eye(*cornea(q), IdealLens(power(MEAN, CYLINDER, LENS_AXIS), column(DEPTH)), column(LENGTH))


def surface_power(flat: np.ndarray, steep: np.ndarray, axis: np.ndarray, step: float) -> np.ndarray:
    strong, weak = 1000 * step / steep, 1000 * step / flat
    return power_matrix((strong + weak) / 2, strong - weak, axis)


def paraxial(length: np.ndarray = LENGTH, depth: np.ndarray = DEPTH, mean: np.ndarray = MEAN) -> np.ndarray:
    """Refraction (M, J0, J45 above one another) of the thick cornea, vergence by power matrices (harris1988).

    The reference takes the marks, on the lens's weakest meridian, and counts its lengths from the back of the cornea.
    """
    behind = vergence_at_cornea(mean, CYLINDER, LENS_AXIS + 90, length - THICKNESS, depth - THICKNESS)
    inside = behind - surface_power(BACK_FLAT, BACK_STEEP, BACK_AXIS, AQUEOUS - CORNEA)
    front = propagate(inside, -THICKNESS / (1000 * CORNEA)) - surface_power(FLAT, STEEP, AXIS, CORNEA - 1)
    return np.array(power_vector_of_matrix(front))


def off(found: Refraction, wanted: np.ndarray) -> float:
    return float(np.abs(np.array(found) - wanted).max())


@pytest.mark.parametrize("meaning", MEANINGS)
def test_a_small_pupil_sees_what_paraxial_matrices_say(meaning: str) -> None:
    assert off(refraction(eyes(), pupil(SMALL), meaning), paraxial()) < 1e-4


@pytest.mark.parametrize("meaning", MEANINGS)
def test_a_cornea_without_thickness_is_that_of_the_toric_reference(meaning: str) -> None:
    """Front and back are one surface: a step from air into aqueous, the thin cornea of langenbucher2004."""
    front, _ = cornea()
    thin = dataclasses.replace(eyes(), front=front, back=front)
    k = [1000 * (AQUEOUS - 1) / radius for radius in (FLAT, STEEP)]
    wanted = refraction_toric_langenbucher2004(
        (k[0] + k[1]) / 2, k[1] - k[0], AXIS, MEAN, CYLINDER, LENS_AXIS + 90, LENGTH, DEPTH
    ).cornea
    expected = np.array([wanted.mean, wanted.j0, wanted.j45])
    assert off(refraction(thin, pupil(SMALL), meaning), expected) < 1e-4


def test_a_toric_surface_is_a_biconic_close_to_the_axis() -> None:
    front = Surface([Toric(column(STEEP), column(FLAT), column(AXIS))], column(0.0))
    back = Surface([Toric(column(BACK_FLAT), column(BACK_STEEP), column(BACK_AXIS + 90))], column(THICKNESS))
    found = refraction(dataclasses.replace(eyes(), front=front, back=back), pupil(SMALL), "wavefront")
    assert off(found, paraxial()) < 1e-4


def thick_lens_planes(mean: np.ndarray, thickness: float, index: float) -> tuple[np.ndarray, np.ndarray]:
    """Depth (mm) of both principal planes of a lens of half its mean power in front; its cylinder is 0 (textbook)."""
    front = mean / 2
    back = (mean - front) / (1 - thickness / (1000 * index) * front)
    first = AQUEOUS * thickness / index * back / mean
    second = thickness - AQUEOUS * thickness / index * front / mean
    return first, second


def test_a_lens_of_two_surfaces_acts_from_its_principal_planes() -> None:
    """Textbook: a thick lens is a thin one of the same power, with the gap between its principal planes cut out."""
    lens = toric_lens(MEAN, 0 * MEAN, LENS_AXIS, DEPTH, 0.9, 1.47)
    first, second = thick_lens_planes(MEAN, 0.9, 1.47)
    found = refraction(dataclasses.replace(eyes(), lens=lens), pupil(SMALL), "wavefront")
    thin = IdealLens(power(MEAN), column(DEPTH + first))
    same = dataclasses.replace(eyes(), lens=thin, length=column(LENGTH - (second - first)))
    assert off(found, np.array(refraction(same, pupil(SMALL), "wavefront"))) < 1e-4


def test_a_toric_lens_of_two_surfaces_has_both_its_powers() -> None:
    """Along each of its meridians it is the thick lens of that power: half the mean in front, the rest behind."""
    round_cornea = Surface([conic(7.6)], column(0.0)), Surface([conic(6.4)], column(THICKNESS))
    lens = toric_lens(MEAN, CYLINDER, LENS_AXIS, DEPTH, 0.9, 1.47)
    found = refraction(Eye(*round_cornea, lens, column(LENGTH)), pupil(SMALL), "wavefront")
    for half, turn in ((CYLINDER / 2, 0), (-CYLINDER / 2, 90)):
        twice = 2 * np.radians(LENS_AXIS + turn)
        along = found.mean + found.j0 * np.cos(twice) + found.j45 * np.sin(twice)
        back = (MEAN + half - MEAN / 2) / (1 - 0.9 / 1470 * MEAN / 2)
        vergence = 1000 * AQUEOUS / (LENGTH - DEPTH - 0.9)
        for step, strength, index in ((0.9, back, 1.47), (DEPTH - THICKNESS, MEAN / 2, AQUEOUS)):
            vergence = vergence - strength
            vergence = vergence / (1 + step / (1000 * index) * vergence)
        vergence = vergence + 1000 * (CORNEA - AQUEOUS) / 6.4
        vergence = vergence / (1 + THICKNESS / (1000 * CORNEA) * vergence) - 1000 * (CORNEA - 1) / 7.6
        assert np.abs(along - vergence).max() < 1e-4


@pytest.mark.parametrize("lens", ["ideal", "two surfaces"])
@pytest.mark.parametrize(("diameter", "x", "y"), [(1.0, 0.0, 0.0), (3.0, 0.4, -0.2), (5.0, -0.3, 0.5)])
def test_the_rays_fill_the_pupil_asked_for(lens: str, diameter: float, x: float, y: float) -> None:
    """Where they would cross the plane of the cornea, had it no power: it only bends them, 0.3 mm from there."""
    eye = eyes()
    if lens != "ideal":
        eye = dataclasses.replace(eye, lens=toric_lens(MEAN, CYLINDER, LENS_AXIS, DEPTH, 0.9, 1.47))
    rays = trace_out(eye, pupil(diameter, x, y))
    wanted = np.stack([diameter / 2 * disc(200)[0] + x, diameter / 2 * disc(200)[1] + y])
    assert rays.place.shape == (2, EYES, 200)
    assert np.abs(rays.place - wanted[:, None]).max() < 0.03 * diameter / 2 + 0.02
    assert np.all(rays.z == 0)


def test_a_pupil_aside_meets_another_part_of_the_cornea() -> None:
    """A wave of third order tilts the cylinder off the centre: power changes in a straight line with the place."""
    height, at = 0.002, 1.2
    coma = Wave(column(height), column(0.0), 1, 3)  # sag = h x (x^2 + y^2): bent by 6 h x along x, 2 h x along y
    front = Surface([conic(7.6), coma], column(0.0))
    plain = Surface([conic(7.6)], column(0.0))
    found, without = (
        np.array(
            refraction(
                Eye(surface, surface, IdealLens(power([18.0]), column(5.0)), column([23.5])),
                pupil(0.2, at),
                "wavefront",
            )
        )[:, 0]
        for surface in (front, plain)
    )
    bent = 1000 * (AQUEOUS - 1) * np.array([6, 2]) * height * at
    change = found - without
    # Power along x and y falls by what the cornea gained; slanting light there makes it a few percent more.
    assert change[0] == pytest.approx(-bent.mean(), rel=0.06)
    assert change[1] == pytest.approx(-(bent[0] - bent[1]) / 2, rel=0.12)
    assert abs(change[2]) < 1e-3


def test_wavefront_and_spot_agree_in_a_regular_eye_and_differ_in_a_cone() -> None:
    front, back = cornea(q=-0.25)
    cone = Surface([*front.parts, Bump(column(-0.03), column(0.9), column(0.4), column(-1.1))], front.depth)
    found = refractions(eyes(q=-0.25), pupil(2.0))
    assert off(found["wavefront"], np.array(found["spot"])) < 0.1
    warped = refractions(dataclasses.replace(eyes(), front=cone, back=back), pupil(3.0))
    assert np.all(np.abs(warped["spot"].mean - warped["wavefront"].mean) > 0.1)


def test_one_tracing_serves_all_meanings() -> None:
    together = refractions(eyes(), pupil(3.0, 0.2, 0.1))
    for meaning in MEANINGS:
        assert np.array_equal(together[meaning], refraction(eyes(), pupil(3.0, 0.2, 0.1), meaning))


def test_each_eye_is_traced_as_if_it_were_alone() -> None:
    """Portions and the common search for the surface change nothing that matters."""
    whole = np.array(refraction(eyes(), pupil(4.0, 0.3), "wavefront"))
    each = [refraction(eyes().some(slice(n, n + 1)), pupil(4.0, 0.3), "wavefront") for n in range(EYES)]
    assert np.abs(whole - np.concatenate(each, axis=1)).max() < 1e-9


def test_turning_the_whole_eye_turns_its_refraction() -> None:
    """A law: everything by 25 degrees, and the double-angle vector turns by 50."""
    turned = Eye(
        Surface([biconic(FLAT, STEEP, AXIS + 25, -0.2, -0.2)], column(0.0)),
        Surface([biconic(BACK_FLAT, BACK_STEEP, BACK_AXIS + 25, -0.2, -0.2)], column(THICKNESS)),
        IdealLens(power(MEAN, CYLINDER, LENS_AXIS + 25), column(DEPTH)),
        column(LENGTH),
    )
    before, after = (refraction(eye, pupil(0.5), "wavefront") for eye in (eyes(), turned))
    assert np.allclose(after.mean, before.mean, atol=1e-3)
    vector = (before.j0 + 1j * before.j45) * np.exp(2j * np.radians(25))
    assert np.allclose(after.j0 + 1j * after.j45, vector, atol=1e-3)


def test_a_ray_beside_the_surface_gives_no_refraction() -> None:
    steep = Surface([conic(np.full(EYES, 2.0))], column(0.0))
    found = refraction(dataclasses.replace(eyes(), front=steep), pupil(5.0), "wavefront")
    assert np.all(np.isnan(found.mean))


def test_some_eyes_of_a_thick_lens_are_those_eyes() -> None:
    lens = toric_lens(MEAN, CYLINDER, LENS_AXIS, DEPTH, 0.9, 1.47)
    assert isinstance(lens.some(slice(0, 2)), ThickLens)
    eye = dataclasses.replace(eyes(), lens=lens)
    whole = np.array(refraction(eye, pupil(3.0), "spot"))
    assert np.abs(np.array(refraction(eye.some(slice(3, 5)), pupil(3.0), "spot")) - whole[:, 3:5]).max() < 1e-9
