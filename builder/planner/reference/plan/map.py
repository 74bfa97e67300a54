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
from builder.planner.reference.plan.cells import Array, EyeValues, Values, flag, highest, there
from builder.planner.reference.plan.surfaces import power_of_reading

RINGS = ("d1", "d2", "d3", "d4")
WAVES = ("once", "twice", "thrice", "four", "five")


def read_map(values: Values, words: Words) -> tuple[Array, Array]:
    """Map as K, its waves, its values unlike their neighbours; returns the means over the discs of 3 and 4 mm."""
    eye = EyeValues(values)
    powers = np.stack(
        [power_of_reading(values, words, values.get("meridians", f"map_{ring}")) for ring in RINGS], axis=-2
    )
    unlike = corneal_map.unlike_neighbours(powers)
    for number, ring in enumerate(RINGS):
        values.put(
            "meridians", **{f"map_power_{ring}": powers[..., number, :], f"unlike_{ring}": unlike[..., number, :]}
        )
    waves = corneal_map.ring_waves(powers)
    asymmetry = waves.cosine[..., 0] + 1j * waves.sine[..., 0]
    regular = 2 * (waves.cosine[..., 1] + 1j * waves.sine[..., 1])
    higher = np.sqrt((waves.cosine[..., 2:] ** 2 + waves.sine[..., 2:] ** 2).sum(axis=-1))
    cylinder = vectors.magnitude_and_axis(regular)
    size, direction = np.abs(asymmetry), np.mod(np.degrees(np.angle(asymmetry)), 360)
    counted = there(powers).sum(axis=-1).astype(float)
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
        ring_values=counted,
        unlike_most=most,
        unlike_at=at,
        ring_mean_there=flag(complete),
        ring_mean=waves.mean,
        ring_asymmetry=size,
        ring_direction=np.where(size < CONSTANTS.axis_free, np.nan, circle.turn(0.0, direction)),
        ring_cylinder=cylinder.magnitude,
        ring_axis=cylinder.axis,
        ring_higher=higher,
        ring_ratio=np.where(no_axis, np.nan, size / cylinder.magnitude),
    )
    for number, name in enumerate(WAVES):
        values.put(
            "rings", **{f"cosine_wave_{name}": waves.cosine[..., number], f"sine_wave_{name}": waves.sine[..., number]}
        )
    table = np.broadcast_to(np.deg2rad(corneal_map.DEGREES), (powers.shape[0], len(corneal_map.DEGREES)))
    for order, name in enumerate(WAVES, start=1):
        values.put("angles", **{f"cosine_{name}": np.cos(order * table), f"sine_{name}": np.sin(order * table)})
    center = power_of_reading(values, words, eye.map_center)
    discs = corneal_map.disc_rows(center, waves.mean)
    values.put("eyes", map_center_power=center, **discs)
    return discs["disc3_mean"], discs["disc4_mean"]


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
    dates = np.concatenate([values.get("earlier", "earlier_date"), today[..., None]], axis=-1)
    years = (dates - highest(*np.moveaxis(dates, -1, 0))[..., None]) / CONSTANTS.days_a_year
    seen = {
        key: np.concatenate([values.get("earlier", f"earlier_{key}"), last[..., None]], axis=-1)
        for key, last in now.items()
    }
    values.put("visits", visit_years=years, visit_refraction=seen["refraction"])
    trends = [_trend(np.where(there(row), years, np.nan), np.where(there(years), row, np.nan)) for row in seen.values()]
    values.put("trends", **{key: np.stack([found[key] for found in trends], axis=-1) for key in trends[0]})


def _trend(x: Array, y: Array) -> dict[str, Array]:
    """Least squares of y on x (..., visits), by deviations from the means."""
    number = there(x).sum(axis=-1).astype(float)
    enough = number > 1
    span = np.where(enough, np.nan_to_num(np.fmax.reduce(x, axis=-1) - np.fmin.reduce(x, axis=-1)), 0.0)
    mean_x = np.where(enough, np.nansum(x, axis=-1) / number, np.nan)
    mean_y = np.where(enough, np.nansum(y, axis=-1) / number, np.nan)
    off_x, off_y = x - mean_x[..., None], y - mean_y[..., None]
    spread = np.where(enough, np.nansum(off_x**2, axis=-1), np.nan)
    joint = np.where(enough, np.nansum(off_x * off_y, axis=-1), np.nan)
    slope = np.where(span >= CONSTANTS.shortest_span - CONSTANTS.rounding_slack, joint / spread, np.nan)
    return {
        "trend_visits": number,
        "trend_span": span,
        "trend_mean_years": mean_x,
        "trend_mean_value": mean_y,
        "trend_spread_years": spread,
        "trend_joint": joint,
        "trend_slope": slope,
    }
