"""What instruments report of a cornea: ring, zones, map, back radii, total power, peak, and how they repeat.

An instrument looks along the normal of the cornea's middle. It knows axial power: 337.5 over the length of the normal
from the surface to that line. Powers in D, lengths in mm, angles in degrees; readings (eyes,), maps (eyes, 12).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from builder.planner.reference.constants import CONSTANTS

from .corneas import Corneas, back_factor, figures, keratometric
from .eye import batches
from .rays import Rays, through
from .surfaces import Array, Surface

RINGS = (2.4, 3.0, 3.5)  # mm: diameters of the rings of instruments
ZONES = (3.0, 4.0)
MAP_RINGS = (1.0, 2.0, 3.0, 4.0)
ROUND = np.arange(0, 360, 10.0)
MAP_DEGREES = np.arange(0, 360, 30.0)
SEARCHED = np.arange(0.25, 3.51, 0.25)  # mm from the middle: where the peak is sought
AIR = 1.0


class Reading(NamedTuple):
    """Mean power and astigmatism as vector C cos 2s, C sin 2s (D) with s the steep meridian; each (eyes,)."""

    mean: Array
    x: Array
    y: Array

    def flat(self) -> Array:
        """The weaker power."""
        return self.mean - np.hypot(self.x, self.y) / 2

    def steep(self) -> Array:
        """The stronger power."""
        return self.mean + np.hypot(self.x, self.y) / 2

    def axis(self) -> Array:
        """The steep meridian (degrees, 0 to below 180)."""
        return np.degrees(np.arctan2(self.y, self.x)) / 2 % 180


def axial_curvature(surface: Surface, radii: Sequence[float] | Array, degrees: Array) -> Array:
    """Axial curvature (1/mm), shape (eyes, radii, degrees), at distances (mm, above 0) from the middle."""
    unit = np.stack([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
    at = np.asarray(radii, np.float64)[:, None] * unit[:, None]
    points = np.concatenate([np.zeros((2, 1)), at.reshape(2, -1)], axis=1)
    parts = batches(len(surface))
    seen = [
        surface.some(which).at(np.repeat(points[:, None], which.stop - which.start, axis=1)).slope for which in parts
    ]
    slope = np.concatenate(seen, axis=1)
    slope = slope[:, :, 1:] - slope[:, :, :1]  # from the middle's own normal
    outward = (slope.reshape(2, -1, *at.shape[1:]) * unit[:, None, None]).sum(axis=0)
    return outward / np.sqrt(1 + outward**2) / np.asarray(radii)[:, None]


def waves(powers: Array, degrees: Array) -> Reading:
    """Mean and second wave of powers (eyes, ..., degrees) round full circles: what a ring calls flat and steep."""
    twice = 2 * np.radians(degrees)
    # A power M + C/2 cos 2(t - s) has the amplitude C/2.
    return Reading(powers.mean(-1), 4 * (powers * np.cos(twice)).mean(-1), 4 * (powers * np.sin(twice)).mean(-1))


def ring(surface: Surface, diameter: float, factor: float | None = None) -> Reading:
    """A ring of a diameter (mm); factor turns curvature into power, else into K."""
    factor = keratometric() if factor is None else factor
    return waves(factor * axial_curvature(surface, [diameter / 2], ROUND)[:, 0], ROUND)


def zone(surface: Surface, diameter: float, factor: float | None = None) -> Reading:
    """The area mean over a disc of a diameter (mm), by ten rings of equal area."""
    factor = keratometric() if factor is None else factor
    radii = diameter / 2 * np.sqrt((np.arange(10) + 0.5) / 10)
    each = waves(factor * axial_curvature(surface, radii, ROUND), ROUND)
    return Reading(*(part.mean(-1) for part in each))


def corneal_map(surface: Surface) -> dict[str, Array]:
    """Centre (eyes, 12: the same all round) and rings of 1 to 4 mm (eyes, 12)."""
    rings = keratometric() * axial_curvature(surface, np.array(MAP_RINGS) / 2, MAP_DEGREES)
    centre = keratometric() * axial_curvature(surface, [1e-3], MAP_DEGREES)[:, 0]
    found = {f"map_d{int(diameter)}": rings[:, number] for number, diameter in enumerate(MAP_RINGS)}
    return {"map_center": np.repeat(centre.mean(-1, keepdims=True), 12, axis=1), **found}


def peak(surface: Surface) -> Array:
    """The highest axial power of the front (eyes,)."""
    return keratometric() * axial_curvature(surface, SEARCHED, ROUND).max(axis=(1, 2))


def total_paraxial(corneas: Corneas, diameter: float) -> Reading:
    """Equivalent power of front and back over a zone by F1 + F2 - (t/n) F1 F2, as vectors to first order."""
    front = zone(corneas.front, diameter, 1000 * (CONSTANTS.index_cornea - AIR))
    back = zone(corneas.back, diameter, -back_factor())
    reduced = corneas.thickness[:, 0] / (1000 * CONSTANTS.index_cornea)
    mean = front.mean + back.mean - reduced * front.mean * back.mean
    x, y = (
        one + other - reduced * (one * back.mean + other * front.mean)
        for one, other in ((front.x, back.x), (front.y, back.y))
    )
    return Reading(mean, x, y)


def total_traced(corneas: Corneas, diameter: float) -> Reading:
    """Power of a ring from where its rays, parallel before the eye, cross the axis behind both surfaces."""
    unit = np.stack([np.cos(np.radians(ROUND)), np.sin(np.radians(ROUND))])
    # The ray through the middle shows the tilt of the whole cornea, from which the others are counted.
    at = np.concatenate([np.zeros((2, 1)), diameter / 2 * unit], axis=1)
    place = np.repeat(at[:, None], len(corneas), axis=1)
    zero = np.zeros(place.shape[1:])
    rays = through(Rays(place, zero, 0 * place, zero + AIR, zero), corneas.front, AIR, CONSTANTS.index_cornea)
    rays = through(rays, corneas.back, CONSTANTS.index_cornea, CONSTANTS.index_aqueous)
    slope = rays.across / rays.along
    inward = ((slope[:, :, 1:] - slope[:, :, :1]) * unit[:, None]).sum(axis=0)
    return waves(-1000 * CONSTANTS.index_aqueous * inward / (diameter / 2), ROUND)


def exact(corneas: Corneas) -> dict[str, Reading]:
    """What instruments without error read: rings, zones, the back (of 40 over its radius, above 0), totals."""
    found = {f"ring_{diameter}": ring(corneas.front, diameter) for diameter in RINGS}
    found |= {f"zone_{diameter:g}": zone(corneas.front, diameter) for diameter in ZONES}
    found |= {f"total_{diameter:g}": total_paraxial(corneas, diameter) for diameter in ZONES}
    found |= {f"traced_{diameter:g}": total_traced(corneas, diameter) for diameter in ZONES}
    return found | {"back": zone(corneas.back, 3.0, back_factor())}


def repeats(kind: str) -> dict[str, float]:
    """Standard deviation of one reading within an eye, by what is read, for a kind of cornea."""
    table = figures()["repeat"]["regular" if kind == "regular" else "irregular"]
    return {key: float(entry["sd"]) for key, entry in table.items()}


def noisy(reading: Reading, power: float, vector: float, generator: np.random.Generator) -> Reading:
    """One reading: standard deviations of its mean and of each component of its vector (D)."""
    draws = generator.standard_normal((3, len(reading.mean)))
    return Reading(*(part + sd * far for part, sd, far in zip(reading, (power, vector, vector), draws, strict=True)))


def read(corneas: Corneas, generator: np.random.Generator) -> dict[str, Array]:
    """One visit's readings under the keys of a case: powers (D, 1.3375), axes, back radii and thickness (mm), map."""
    sd, true = repeats(corneas.kind), exact(corneas)
    sources = {"ring": "ring_3.0", "zone3": "zone_3", "zone4": "zone_4", "second": "ring_2.4"}
    sources |= {"total3": "total_3", "total4": "total_4"}
    found: dict[str, Array] = {}
    for key, source in sources.items():
        once = noisy(true[source], sd["power"], sd["vector"], generator)
        found |= {f"{key}_flat": once.flat(), f"{key}_steep": once.steep(), f"{key}_steep_axis": once.axis()}
        if not key.startswith("total"):
            found[f"{key}_flat_axis"] = (once.axis() + 90) % 180
    back = true["back"]
    # A radius' error in mm as one of the power 40/r in D; a vector of both meridians' errors has twice their variance.
    as_power = sd["back_radius"] * float(np.mean(back.mean)) ** 2 / back_factor()
    once = noisy(back, as_power / np.sqrt(2), as_power * np.sqrt(2), generator)
    found |= {"back_flat_radius": back_factor() / once.flat(), "back_steep_radius": back_factor() / once.steep()}
    found |= {"back_steep_axis": once.axis()}
    eyes = len(corneas)
    found["thickness_central"] = corneas.thickness[:, 0] + sd["thickness"] * generator.standard_normal(eyes)
    found["peak_k"] = peak(corneas.front) + sd["peak"] * generator.standard_normal(eyes)
    for key, ring_ in corneal_map(corneas.front).items():
        many = 1 if key == "map_center" else 12
        found[key] = ring_ + sd["map"] * generator.standard_normal((eyes, many))
    return found
