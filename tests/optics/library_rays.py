"""Writes library_rays.csv: rays through pairs of surfaces as the library optiland 0.6.3 traces them.

Its environment is large, so it is no requirement here; the table is kept. To make it anew: install optiland into an
environment of its own and run this file there. The geometries toroidal, biconic and conic are the library's; for the
cone off the centre and the joined biconic it gets the sag and its slopes and searches the point itself. Positions are
sought to 1e-14 mm.
"""

import csv
from pathlib import Path

import numpy as np
import optiland.backend as be
from optiland.coordinate_system import CoordinateSystem
from optiland.geometries.biconic import BiconicGeometry
from optiland.geometries.newton_raphson import NewtonRaphsonGeometry
from optiland.geometries.standard import StandardGeometry
from optiland.geometries.toroidal import ToroidalGeometry
from optiland.rays import RealRays

TABLE = Path(__file__).with_name("library_rays.csv")
TOLERANCE = 1e-14
INDICES = (1.0, 1.376, 1.336)


class Cone(NewtonRaphsonGeometry):
    """A conic with a bell beside its vertex."""

    def __init__(self, system, radius, conic, height, width, x, y):
        super().__init__(system, radius, conic, TOLERANCE)
        self.bell = (height, width, x, y)

    def _bell(self, x, y):
        height, width, x0, y0 = self.bell
        return height * np.exp(-((x - x0) ** 2 + (y - y0) ** 2) / (2 * width**2))

    def sag(self, x=0, y=0):
        r2, radius = x**2 + y**2, float(self.radius)
        return r2 / (radius * (1 + np.sqrt(1 - (1 + float(self.k)) * r2 / radius**2))) + self._bell(x, y)

    def _surface_normal(self, x, y):
        _, width, x0, y0 = self.bell
        steep = 1 / np.sqrt(float(self.radius) ** 2 - (1 + float(self.k)) * (x**2 + y**2))
        bell = self._bell(x, y) / width**2
        return upright(x * steep - bell * (x - x0), y * steep - bell * (y - y0))


class Joined(NewtonRaphsonGeometry):
    """A biconic under one root: z = (a x^2 + b y^2) / (1 + sqrt(1 - p x^2 - q y^2))."""

    def __init__(self, system, radius_x, radius_y, conic_x, conic_y):
        super().__init__(system, radius_x, conic_x, TOLERANCE)
        self.bends = (1 / radius_x, 1 / radius_y)
        self.under = ((1 + conic_x) / radius_x**2, (1 + conic_y) / radius_y**2)

    def sag(self, x=0, y=0):
        (a, b), (p, q) = self.bends, self.under
        return (a * x**2 + b * y**2) / (1 + np.sqrt(1 - p * x**2 - q * y**2))

    def _surface_normal(self, x, y):
        (a, b), (p, q) = self.bends, self.under
        root = np.sqrt(1 - p * x**2 - q * y**2)
        over, under = a * x**2 + b * y**2, 1 + root
        return upright(
            2 * a * x / under + over * p * x / (root * under**2), 2 * b * y / under + over * q * y / (root * under**2)
        )


def upright(slope_x, slope_y):
    length = np.sqrt(1 + slope_x**2 + slope_y**2)
    return slope_x / length, slope_y / length, -1 / length


def place(depth, turned=0.0, x=0.0, y=0.0):
    return CoordinateSystem(x, y, depth, rz=np.radians(turned))


CASES = {
    "toric": (
        ToroidalGeometry(place(0, 25), 7.9, 7.2, tol=TOLERANCE),
        ToroidalGeometry(place(0.52, -40), 6.1, 6.6, tol=TOLERANCE),
    ),
    "biconic": (
        BiconicGeometry(place(0, 70), 7.1, 7.8, -0.3, -0.15, TOLERANCE),
        BiconicGeometry(place(0.5, 10), 6.0, 6.5, -0.4, 0.1, TOLERANCE),
    ),
    "joined biconic": (
        Joined(place(0, 70), 7.1, 7.8, -0.3, -0.15),
        Joined(place(0.5, 10), 6.0, 6.5, -0.4, 0.1),
    ),
    "conic aside": (
        StandardGeometry(place(0, 0, 0.4, -0.7), 6.9, -0.8),
        StandardGeometry(place(0.46, 0, -0.3, -0.5), 5.7, -0.6),
    ),
    "cone off the centre": (
        Cone(place(0), 7.6, -0.2, -0.022, 0.9, 0.4, -1.1),
        Cone(place(0.45), 6.3, -0.3, -0.045, 0.8, 0.5, -1.0),
    ),
}


def start():
    """Rays from in front of the eye: parallel ones and slanting ones, up to 2.5 mm from the axis."""
    number = np.arange(16) + 0.5
    radius, angle = 2.5 * np.sqrt(number / 16), number * np.pi * (3 - np.sqrt(5))
    slant, towards = np.where(number < 8, 0.0, 0.06 * number / 16), 2.1 * number
    l, m = slant * np.cos(towards), slant * np.sin(towards)  # noqa: E741
    return radius * np.cos(angle), radius * np.sin(angle), 0 * l - 3.0, l, m, np.sqrt(1 - l**2 - m**2)


def lines():
    yield "case", "surface", "ray", "x", "y", "z", "l", "m", "n", "path"
    for name, surfaces in CASES.items():
        x, y, z, l, m, n = start()  # noqa: E741
        rays = RealRays(x, y, z, l, m, n, np.ones(16), np.ones(16))
        path = np.zeros(16)
        yield from told(name, 0, rays, path)
        for number, (geometry, before, behind) in enumerate(zip(surfaces, INDICES, INDICES[1:], strict=False), 1):
            geometry.cs.localize(rays)
            way = geometry.distance(rays)
            rays.x, rays.y, rays.z = rays.x + way * rays.L, rays.y + way * rays.M, rays.z + way * rays.N
            path = path + before * np.asarray(way)
            rays.refract(*geometry.surface_normal(rays), before, behind)
            geometry.cs.globalize(rays)
            yield from told(name, number, rays, path)


def told(name, number, rays, path):
    for ray, values in enumerate(zip(rays.x, rays.y, rays.z, rays.L, rays.M, rays.N, path, strict=True)):
        yield name, number, ray, *(f"{float(value):.15g}" for value in values)


if __name__ == "__main__":
    be.set_backend("numpy")
    with TABLE.open("w", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(lines())
