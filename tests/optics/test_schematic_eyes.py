"""Published schematic eyes, traced close to the axis, to their printed digits.

Radii, distances, indices and results of Le Grand's full theoretical eye (Le Grand Y, El Hage SG. Physiological Optics,
1980) and Gullstrand's exact eye (in Helmholtz's Handbuch, 3rd ed. 1909) are written from memory.
"""

from __future__ import annotations

import numpy as np
import pytest

from builder.planner.optics.eye import Eye, Pupil
from builder.planner.optics.focus import refraction
from builder.planner.optics.lenses import Indices, ThickLens
from builder.planner.optics.rays import Rays, parallel, through
from builder.planner.optics.surfaces import Surface, column, conic

HEIGHT = 1e-3  # mm: paraxial
# Depth (mm), radius (mm) and the index behind.
LE_GRAND = [(0.0, 7.8, 1.3771), (0.55, 6.5, 1.3374), (3.6, 10.2, 1.42), (7.6, -6.0, 1.336)]
GULLSTRAND = [
    (0.0, 7.7, 1.376),
    (0.5, 6.8, 1.336),
    (3.6, 10.0, 1.386),
    (4.146, 7.911, 1.406),
    (6.565, -5.76, 1.386),
    (7.2, -6.0, 1.336),
]
Surfaces = list[tuple[float, float, float]]


def traced(surfaces: Surfaces, begin: float = 1.0) -> Rays:
    """A ray along the axis at a small height, through all surfaces, from an index in front."""
    rays = parallel([HEIGHT], [0.0])
    rays = rays._replace(along=rays.along * begin)
    for depth, radius, index in surfaces:
        rays = through(rays, Surface([conic(radius)], column(depth)), begin, index)
        begin = index
    return rays


def power_of(surfaces: Surfaces, begin: float = 1.0) -> float:
    """Equivalent power (D): what a ray of height 1 gains in index times slope."""
    rays = traced(surfaces, begin)
    return float(-1000 * rays.across[0, 0, 0] / HEIGHT)


def focus_of(surfaces: Surfaces) -> float:
    """Where the ray crosses the axis (mm behind the vertex of the cornea)."""
    rays = traced(surfaces)
    return float((rays.z - rays.place[0] / rays.across[0] * rays.along)[0, 0])


@pytest.mark.parametrize(
    ("surfaces", "begin", "printed", "digits"),
    [
        (LE_GRAND, 1.0, 59.940, 3),
        (LE_GRAND[:2], 1.0, 42.356, 3),
        (LE_GRAND[2:], 1.3374, 21.779, 3),
        (GULLSTRAND, 1.0, 58.64, 2),
        (GULLSTRAND[:1], 1.0, 48.83, 2),
        (GULLSTRAND[1:2], 1.376, -5.88, 2),
        (GULLSTRAND[:2], 1.0, 43.05, 2),
        (GULLSTRAND[2:], 1.336, 19.11, 2),
    ],
)
def test_powers_to_the_printed_digits(surfaces: Surfaces, begin: float, printed: float, digits: int) -> None:
    assert round(power_of(surfaces, begin), digits) == printed


def test_the_focus_of_le_grand_s_eye() -> None:
    assert round(focus_of(LE_GRAND), 3) == 24.197


def test_the_focus_of_gullstrand_s_eye() -> None:
    """Printed 24.387, from cardinal points rounded on the way: matrices of his printed radii give 24.3854, too."""
    assert round(focus_of(GULLSTRAND), 2) == round(24.387, 2)
    ray, index = np.array([1.0, 0.0]), 1.0
    for (depth, radius, behind), following in zip(GULLSTRAND, [*[d for d, *_ in GULLSTRAND[1:]], None], strict=True):
        ray = np.array([[1, 0], [(index - behind) / radius, 1]]) @ ray
        index = behind
        if following is not None:
            ray = np.array([[1, (following - depth) / index], [0, 1]]) @ ray
    assert focus_of(GULLSTRAND) == pytest.approx(7.2 - index * ray[0] / ray[1], abs=1e-5)


def test_le_grand_s_eye_traced_from_the_retina_needs_no_correction() -> None:
    front, back, *lens = (Surface([conic(radius)], column(depth)) for depth, radius, _ in LE_GRAND)
    eye = Eye(front, back, ThickLens(*lens, 1.42), column(24.197), Indices(1.3771, 1.3374, 1.336))
    found = refraction(eye, Pupil(column(0.05), column(0.0), column(0.0)), "wavefront")
    # Half a unit of the last digit of the focus is 0.0005 mm, which 59.94^2/1336 D a mm make 0.0014 D.
    assert np.abs(found.mean).max() < 0.0014
    assert np.abs([found.j0, found.j45]).max() < 1e-5


def test_gullstrand_s_eye_is_a_dioptre_hyperopic() -> None:
    """Its retina lies at 24.0 mm: printed refraction +1.0 D. Light from the retina goes forward through all six."""
    begin = 1.336
    rays = Rays(
        np.zeros((2, 1, 1)), column(24.0), column([0.0]) + np.array([[[1e-4]], [[0.0]]]), column(-begin), column(0)
    )
    ahead = [*[index for *_, index in GULLSTRAND][::-1][1:], 1.0]
    for (depth, radius, before), behind in zip(GULLSTRAND[::-1], ahead, strict=True):
        rays = through(rays, Surface([conic(radius)], column(depth)), before, behind)
    # Running outwards, the light comes from a point behind the eye's vertex: the far point of a hyperope.
    away = (rays.place[0] / rays.across[0] * rays.along - rays.z)[0, 0]
    assert round(-1000 / float(away), 1) == pytest.approx(1.0)
