"""Surfaces: slopes against differences of the sag, shapes against textbook geometry."""

from __future__ import annotations

import numpy as np
import pytest

from builder.planner.optics.eye import disc
from builder.planner.optics.rays import power
from builder.planner.optics.surfaces import Bump, Part, Surface, Toric, Wave, apply, biconic, column, conic, symmetric

RADII, AXES = np.array([7.9, 7.5, 6.4]), np.array([0.0, 37.0, 121.0])
PARTS: dict[str, Part] = {
    "conic": conic(RADII, [-0.3, 0.0, 0.4]),
    "biconic": biconic(RADII, RADII - 0.6, AXES, [-0.3, -0.2, 0.1], [-0.5, 0.0, -0.1]),
    "hollow": biconic(-RADII, -RADII - 2, AXES, 0, 0),
    "toric": Toric(column(RADII), column(RADII - 0.5), column(AXES)),
    "bump": Bump(column([-0.02, -0.04, 0.01]), column([0.8, 1.0, 1.4]), column([0.3, -0.6, 0]), column(-1)),
    "coma": Wave(column([0.002, -0.003, 0.004]), column(AXES), 1, 3),
    "trefoil": Wave(column([0.002, -0.003, 0.004]), column(AXES), 3, 3),
    "astigmatism of the rim": Wave(column([0.001, 0.001, 0.002]), column(AXES), 2, 4),
}


def points(radius: float = 2.0, rays: int = 40) -> np.ndarray:
    return np.stack([np.tile(radius * part, (3, 1)) for part in disc(rays)])


@pytest.mark.parametrize("name", PARTS)
def test_slopes_are_the_differences_of_the_sag(name: str) -> None:
    part, at, step = PARTS[name], points(), 1e-4
    slope = part.at(at).slope
    for number in (0, 1):
        aside = np.zeros(at.shape)
        aside[number] = step
        # Four points of the central difference: its error falls with the fourth power of the step.
        near, far = (part.at(at + n * aside).sag - part.at(at - n * aside).sag for n in (1, 2))
        assert np.allclose((8 * near - far) / (12 * step), slope[number], atol=1e-11)


@pytest.mark.parametrize("name", ["conic", "biconic", "hollow", "toric"])
def test_the_guess_starts_as_the_surface_does(name: str) -> None:
    part, at = PARTS[name], points(0.05)
    surface = Surface([part], column(0.5))
    # Opposite pairs across both meridians: the mean curvature is what the guess knows.
    turned = np.stack([-at[1], at[0]])
    mean = (part.at(at).sag + part.at(turned).sag) / 2
    assert np.allclose(surface.guess(at), mean, rtol=1e-3, atol=0)


def test_a_sphere_is_a_sphere_by_every_maker() -> None:
    at = points(3.0)
    sphere = RADII[:, None] - np.sqrt(RADII[:, None] ** 2 - at[0] ** 2 - at[1] ** 2)
    for part in (conic(RADII), biconic(RADII, RADII, AXES, 0, 0), Toric(*(column(v) for v in (RADII, RADII, AXES)))):
        assert np.allclose(part.at(at).sag, sphere, atol=1e-13)


def test_a_toric_has_its_circles_in_its_two_meridians() -> None:
    """Textbook: the arc in one meridian, the circle of the turn across it."""
    along = np.linspace(-2, 2, 9)
    arc, turned, axis = 6.9, 7.8, 30.0
    for angle, radius in ((axis, arc), (axis + 90, turned)):
        line = along * np.array([[np.cos(np.radians(angle))], [np.sin(np.radians(angle))]])
        sag = Toric(column(arc), column(turned), column(axis)).at(line[:, None]).sag[0]
        assert np.allclose(sag, radius - np.sqrt(radius**2 - along**2), atol=1e-13)


def test_a_biconic_has_its_conics_in_its_two_meridians() -> None:
    """Textbook: sag = c r^2 / (1 + sqrt(1 - (1 + Q) c^2 r^2)), steep along the axis named."""
    along = np.linspace(-2, 2, 9)
    part = biconic(7.8, 6.9, 30.0, -0.2, -0.5)
    for angle, radius, q in ((30, 6.9, -0.5), (120, 7.8, -0.2)):
        line = along * np.array([[np.cos(np.radians(angle))], [np.sin(np.radians(angle))]])
        wanted = along**2 / (radius * (1 + np.sqrt(1 - (1 + q) * along**2 / radius**2)))
        assert np.allclose(part.at(line[:, None]).sag[0], wanted, atol=1e-14)


def test_a_wave_is_what_its_formula_says() -> None:
    """r^n cos(m (t - crest)), as waves of a pupil are written."""
    at = points()
    radius, angle = np.hypot(*at), np.arctan2(at[1], at[0])
    wave = PARTS["astigmatism of the rim"].at(at).sag
    wanted = np.array([[0.001], [0.001], [0.002]]) * radius**4 * np.cos(2 * (angle - np.radians(column(AXES))))
    assert np.allclose(wave, wanted, atol=1e-15)


def test_matrices_have_their_values_along_and_across_the_meridian() -> None:
    matrix = symmetric([3.0, 5.0], [1.0, -2.0], [30.0, 110.0])
    for number, (first, second, axis) in enumerate([(3.0, 1.0, 30.0), (5.0, -2.0, 110.0)]):
        for value, angle in ((first, axis), (second, axis + 90)):
            unit = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
            assert np.allclose(matrix[number] @ unit, value * unit, atol=1e-14)
    assert np.allclose(power([20.0, 20.0], [2.0, 2.0], 90.0)[1], [[19.0, 0.0], [0.0, 21.0]])


def test_one_matrix_serves_all_eyes_and_many_serve_each_its_own() -> None:
    at = points()
    many = np.arange(12.0).reshape(3, 2, 2)
    assert np.allclose(apply(many, at), np.einsum("eij,jer->ier", many, at))
    assert np.allclose(apply(many[:1], at), np.einsum("ij,jer->ier", many[0], at))


@pytest.mark.parametrize("name", PARTS)
def test_some_of_the_eyes_are_those_eyes(name: str) -> None:
    at = points()
    whole = Surface([PARTS[name]], column([0.0, 0.1, 0.2]), np.arange(6.0).reshape(2, 3, 1))
    part = whole.some(slice(1, 3))
    assert np.array_equal(part.at(at[:, 1:]).sag, whole.at(at).sag[1:])
    assert np.array_equal(part.depth, whole.depth[1:])
    assert part.aside is not None and np.array_equal(part.aside, np.arange(6.0).reshape(2, 3, 1)[:, 1:])


def test_where_there_is_no_surface_there_is_no_number() -> None:
    with np.errstate(invalid="ignore"):
        assert np.isnan(conic([6.0]).at(np.array([[[6.5]], [[0.0]]])).sag)
