"""Rays through pairs of surfaces, against a general-purpose optics library: optiland 0.6.3, see library_rays.py.

Two of its five cases get sag and slopes from us and search and bend by the library; the other three are all its own.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from builder.planner.optics.rays import Rays, through
from builder.planner.optics.surfaces import Bump, Surface, Toric, biconic, column, conic

AIR, CORNEA, AQUEOUS = 1.0, 1.376, 1.336
MM, DIRECTION = 1e-9, 1e-10


def surface(depth: float, *parts: object, aside: tuple[float, float] | None = None) -> Surface:
    """One eye's surface."""
    moved = None if aside is None else np.array(aside).reshape(2, 1, 1)
    return Surface(parts, column(depth), moved)  # type: ignore[arg-type]


def torus(across: float, along: float, turned: float) -> Toric:
    """The library turns an arc of radius `along` in its own y and z about a line along y at `across`."""
    return Toric(column(along), column(across), column(turned + 90))


def two_meridians(x: float, y: float, qx: float, qy: float, turned: float) -> tuple[object, object]:
    """The library's biconic is the sum of the sags of both meridians, each of which is a cylinder here."""
    return biconic(np.inf, x, turned, 0, qx), biconic(np.inf, y, turned + 90, 0, qy)


def cone(radius: float, q: float, height: float, width: float, x: float, y: float) -> tuple[object, object]:
    return conic(radius, q), Bump(column(height), column(width), column(x), column(y))


CASES = {
    "toric": (surface(0, torus(7.9, 7.2, 25)), surface(0.52, torus(6.1, 6.6, -40))),
    "biconic": (
        surface(0, *two_meridians(7.1, 7.8, -0.3, -0.15, 70)),
        surface(0.5, *two_meridians(6.0, 6.5, -0.4, 0.1, 10)),
    ),
    "joined biconic": (surface(0, biconic(7.8, 7.1, 70, -0.15, -0.3)), surface(0.5, biconic(6.5, 6.0, 10, 0.1, -0.4))),
    "conic aside": (
        surface(0, conic(6.9, -0.8), aside=(0.4, -0.7)),
        surface(0.46, conic(5.7, -0.6), aside=(-0.3, -0.5)),
    ),
    "cone off the centre": (
        surface(0, *cone(7.6, -0.2, -0.022, 0.9, 0.4, -1.1)),
        surface(0.45, *cone(6.3, -0.3, -0.045, 0.8, 0.5, -1.0)),
    ),
}


def table(name: str) -> np.ndarray:
    """What the library gives, shape (surfaces + 1, rays, 7): x, y, z, l, m, n, path."""
    with Path(__file__).with_name("library_rays.csv").open(newline="") as file:
        lines = [line for line in csv.reader(file) if line[0] == name]
    return np.array([[float(value) for value in line[3:]] for line in lines]).reshape(3, -1, 7)


def as_table(rays: Rays, index: float) -> np.ndarray:
    x, y = rays.place
    values = [x, y, rays.z, *(rays.across / index), rays.along / index, rays.path]
    return np.stack([value[0] for value in values], axis=-1)


@pytest.mark.parametrize("name", CASES)
def test_rays_meet_and_bend_as_in_a_general_library(name: str) -> None:
    begin, *expected = table(name)
    assert len(begin) == 16
    x, y, z, l, m, n, path = (value[None] for value in begin.T)  # noqa: E741
    rays = Rays(np.stack([x, y]), z, np.stack([l, m]), n, path)
    for shape, want, before, behind in zip(CASES[name], expected, (AIR, CORNEA), (CORNEA, AQUEOUS), strict=True):
        rays = through(rays, shape, before, behind)
        off = np.abs(as_table(rays, behind) - want)
        assert off[:, [0, 1, 2, 6]].max() < MM
        assert off[:, 3:6].max() < DIRECTION


@pytest.mark.parametrize("name", CASES)
def test_light_goes_back_the_way_it_came(name: str) -> None:
    begin, _, end = table(name)
    x, y, z, l, m, n, path = (value[None] for value in end.T)  # noqa: E741
    rays = Rays(np.stack([x, y]), z, -AQUEOUS * np.stack([l, m]), -AQUEOUS * n, -path)
    front, back = CASES[name]
    # A little way back into the aqueous, so that both surfaces must be found.
    rays = through(rays._replace(place=rays.place - rays.across, z=z - rays.along), back, AQUEOUS, CORNEA)
    rays = through(rays, front, CORNEA, AIR)
    away = begin[:, 2] - rays.z
    assert np.abs(rays.place + rays.across / rays.along * away - begin.T[:2, None]).max() < MM
    assert np.abs(rays.across[:, 0] + begin.T[3:5]).max() < DIRECTION
    assert np.abs(rays.along[0] + begin.T[5]).max() < DIRECTION
