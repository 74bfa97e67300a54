"""The typed map and the dated visits: waves of the rings, means over a disc, slips of typing, change a year.

Another method: waves by least squares and discs by Gauss-Legendre (corneal_map), where the cells take sums of products
and fixed weights; _trend by deviations from the means, where they subtract products of the means.
An echo: counts, greatest values and values unlike their neighbours as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import circle, corneal_map, vectors
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, highest, there
from builder.planner.reference.plan.surfaces import power_of_reading

RINGS = ("d1", "d2", "d3", "d4")


def read_map(values: Values, words: Words) -> tuple[Array, Array]:
    """Map as K, its waves, its values unlike their neighbours; returns the means over the discs of 3 and 4 mm."""
    eye = EyeValues(values)
    powers = np.stack(
        [power_of_reading(values, words, values.get("meridians", f"map_{ring}")) for ring in RINGS], axis=-2
    )
    unlike = corneal_map.unlike_neighbours(powers)
    waves = corneal_map.ring_waves(powers)
    asymmetry = waves.cosine[..., 0] + 1j * waves.sine[..., 0]
    regular = 2 * (waves.cosine[..., 1] + 1j * waves.sine[..., 1])
    higher = np.sqrt((waves.cosine[..., 2:] ** 2 + waves.sine[..., 2:] ** 2).sum(axis=-1))
    cylinder = vectors.magnitude_and_axis(regular)
    size, direction = np.abs(asymmetry), np.mod(np.degrees(np.angle(asymmetry)), 360)
    most = highest(*np.moveaxis(unlike, -1, 0))
    at = np.where(
        most > CONSTANTS.unlike_limit + CONSTANTS.rounding_slack,
        corneal_map.DEGREES[np.nan_to_num(unlike, nan=-1).argmax(axis=-1)],
        np.nan,
    )
    complete = there(waves.mean)
    no_axis = np.abs(regular) < CONSTANTS.axis_free
    size = np.where(complete, size, np.nan)
    values.put(
        "rings",
        ring_values=there(powers).sum(axis=-1).astype(float),
        unlike_at=at,
        ring_mean=waves.mean,
        ring_asymmetry=size,
        ring_direction=np.where(size < CONSTANTS.axis_free, np.nan, circle.turn(0.0, direction)),
        ring_cylinder=cylinder.magnitude,
        ring_axis=cylinder.axis,
        ring_higher=higher,
        ring_ratio=np.where(no_axis, np.nan, size / cylinder.magnitude),
        cosine_wave_twice=waves.cosine[..., 1],
        sine_wave_twice=waves.sine[..., 1],
    )
    center = power_of_reading(values, words, eye.map_center)
    discs = corneal_map.disc_mean(center, waves.mean[..., :3]), corneal_map.disc_mean(center, waves.mean)
    values.put("eyes", disc3_mean=discs[0], disc4_mean=discs[1])
    return discs


def visits(values: Values) -> None:
    """The dated visits, and the change a year of what is followed, by least squares."""
    eye = EyeValues(values)
    now = {
        "peak_k": eye.peak_power,
        "zone3_mean": (eye.zone3_flat_power + eye.zone3_steep_power) / 2,
        "back_radius": eye.back_mean_radius,
        "thinnest": eye.thickness_thinnest,
        "refraction": eye.refraction_sphere + eye.refraction_cylinder / 2,
    }
    today = np.broadcast_to(values.get("plan", "plan_date")[:, None], eye.peak_power.shape)
    days = np.concatenate([values.get("earlier", "earlier_date"), today[..., None]], axis=-1)
    seen = [
        np.concatenate([values.get("earlier", f"earlier_{key}"), last[..., None]], axis=-1) for key, last in now.items()
    ]
    number, slope = _trend(days[..., None, :] / CONSTANTS.days_a_year, np.stack(seen, axis=-2))
    values.put("trends", trend_visits=number, trend_slope=slope)


def _trend(x: Array, y: Array) -> tuple[Array, Array]:
    """How many visits count, and the least squares of y on x (..., visits), by deviations from the means."""
    counts = there(x) & there(y)
    number = counts.sum(axis=-1).astype(float)
    x, y = np.where(counts, x, np.nan), np.where(counts, y, np.nan)
    off = x - (np.nansum(x, axis=-1) / number)[..., None]
    slope = np.nansum(off * y, axis=-1) / np.nansum(off**2, axis=-1)
    span = np.fmax.reduce(x, axis=-1) - np.fmin.reduce(x, axis=-1)
    return number, np.where(span >= CONSTANTS.shortest_span - CONSTANTS.rounding_slack, slope, np.nan)
