"""Astigmatism of the lines as double-angle vectors, by power matrices; clouds by eigenvalues; turns; the incision.

Another method: complex numbers for vectors and turns, power matrices for refractions and eigenvalues for ellipses,
where the cells have X and Y apart, ATAN2 and roots.
An echo: means and counts as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.register.patients import standard_error
from builder.planner.reference.register.rows import Array, Rows, beside, by_key, mean, median, sd
from builder.planner.reference.vectors import ComplexArray, double_angle, magnitude_and_axis, spectacle_to_cornea

CLOUDS = ("origin", "outcome", "target", "surgical", "missed")
DECIMALS = 6  # of a turn on the circle


def line_vectors(rows: Rows) -> dict[str, ComplexArray]:
    """The vectors of each line; returns those of the clouds."""
    found = {key: _refraction(rows, key) for key in ("outcome", "planned", "earlier")}
    rings = {key: _ring(rows, key) for key in ("ring_before", "ring_after")}
    origin = np.where(np.isnan(rings["ring_before"]), found["earlier"], rings["ring_before"])
    clouds = {
        "origin": origin,
        "outcome": found["outcome"],
        "target": found["planned"] - origin,
        "surgical": found["outcome"] - origin,
        "missed": found["outcome"] - found["planned"],
    }
    for key, vector in clouds.items():
        rows.put("lines", **{f"{key}_x": beside(vector, vector.real), f"{key}_y": beside(vector, vector.imag)})
    _lens(rows, clouds)
    _incision(rows, rings)
    return clouds


def _refraction(rows: Rows, key: str) -> ComplexArray:
    """Cylinder at the cornea, at the axis of plus cylinder."""
    sphere, cylinder, axis = (rows.counted(f"{part}_{key}") for part in ("sphere", "cylinder", "axis"))
    at_cornea = spectacle_to_cornea(sphere, cylinder, np.zeros(sphere.shape), CONSTANTS.vertex_of_formulas).cylinder
    with np.errstate(invalid="ignore"):
        return double_angle(np.where(-at_cornea < CONSTANTS.axis_free, 0.0, -at_cornea), axis + 90)


def _ring(rows: Rows, key: str) -> ComplexArray:
    cylinder, axis = rows.counted(f"{key}_cylinder"), rows.counted(f"{key}_axis")
    return double_angle(np.where(cylinder < CONSTANTS.axis_free, 0.0, cylinder), axis)


def _lens(rows: Rows, clouds: dict[str, ComplexArray]) -> None:
    """What was done of what was aimed for; the lens on its axis."""
    target, surgical = clouds["target"], clouds["surgical"]
    aimed = np.where(np.abs(target) >= CONSTANTS.least_target - CONSTANTS.rounding_slack, target, np.nan)
    done = np.where(np.abs(surgical) >= CONSTANTS.axis_free, surgical, np.nan)
    aside = np.round(np.rad2deg(np.angle(done / aimed)) / 2, DECIMALS)
    part = np.abs(surgical) / np.abs(aimed)
    apart = rows.counted("lens_axis") - rows.counted("implanted_axis")
    turned = np.round(np.rad2deg(np.angle(np.exp(2j * np.deg2rad(apart)))) / 2, DECIMALS)
    turned = np.where(turned <= -90, 90.0, turned)
    ends = np.array([CONSTANTS.turned_good, CONSTANTS.turned_borderline]) + CONSTANTS.rounding_slack
    kind = beside(turned, np.searchsorted(ends, np.abs(turned)) + 1.0)
    rows.put("lines", corrected_part=part, aside_turn=aside, turned=turned)
    sizes = np.abs(turned)[~np.isnan(turned)]
    rows.put(
        "plan",
        corrected_eyes=float((~np.isnan(part)).sum()),
        corrected_mean=mean(part),
        aside_mean=mean(aside),
        aside_size_mean=mean(np.abs(aside)),
        turned_eyes=float(sizes.size),
        turned_mean=mean(turned),
        turned_size_mean=mean(sizes),
        turned_size_median=median(sizes),
        turned_size_most=float(sizes.max()) if sizes.size else np.nan,
        turned_little=float((kind == 1).sum()),
        turned_some=float((kind == 2).sum()),
        turned_much=float((kind == 3).sum()),
    )


def _incision(rows: Rows, rings: dict[str, ComplexArray]) -> None:
    """The change of the cornea turned to the incision: its real part steepens the incision's meridian."""
    change = (rings["ring_after"] - rings["ring_before"]) * np.exp(-2j * np.deg2rad(rows.counted("incision_meridian")))
    flattening, oblique = beside(change, -change.real), beside(change, change.imag)
    planned = mean(beside(change, rows.number("incision_sia")))
    rows.put("lines", flattening=flattening, oblique_change=oblique)
    eyes = float((~np.isnan(change)).sum())
    margin = CONSTANTS.normal_95 * standard_error(flattening, rows.patient)
    apart = abs(mean(flattening) - planned) - margin
    enough = eyes >= CONSTANTS.few_eyes and not np.isnan(apart)
    rows.put(
        "plan",
        incision_enough=float(enough),
        incision_differs=beside(apart, enough and apart > CONSTANTS.rounding_slack),
        incision_eyes=eyes,
        flattening_mean=mean(flattening),
        flattening_sd=sd(flattening),
        flattening_margin=margin,
        oblique_mean=mean(oblique),
        oblique_sd=sd(oblique),
        planned_flattening=planned,
    )


def f_part(eyes: float) -> float:
    """2/(n - 2) times the F quantile of (2, n - 2) that leaves a share outside: its closed form (koch2021)."""
    return float(np.expm1(-2 / (eyes - 2) * np.log(CONSTANTS.outside_ellipse))) if eyes > 2 else np.nan


def clouds_table(rows: Rows, clouds: dict[str, ComplexArray]) -> None:
    """Centroid and ellipses of each cloud; half-axes from the eigenvalues of the covariance matrix."""
    rows.put("clouds", **by_key([_cloud(clouds[key], rows.patient) for key in CLOUDS]))


def _cloud(vectors: ComplexArray, patient: Array) -> dict[str, float]:
    points = vectors[~np.isnan(vectors)]
    eyes = float(points.size)
    centre = points.mean() if points.size else complex(np.nan, np.nan)
    shown = magnitude_and_axis(centre)
    values, turn = np.array([np.nan, np.nan]), np.nan
    if eyes > 2:
        values, directions = np.linalg.eigh(np.cov(np.stack([points.real, points.imag]), ddof=1))
        values = np.maximum(values, 0)
        turn = float(np.rad2deg(np.arctan2(directions[1, 1], directions[0, 1])))
        if (values[1] - values[0]) / 2 < CONSTANTS.axis_free**2:
            turn = 0.0
        turn = turn - 180 if turn > 90 else turn + 180 if turn <= -90 else turn
    part = f_part(eyes)
    data = (eyes**2 - 1) / eyes * part if eyes else np.nan
    across, up = (standard_error(beside(vectors, each), patient) for each in (vectors.real, vectors.imag))
    return {
        "cloud_eyes": eyes,
        "mean_x": centre.real,
        "mean_y": centre.imag,
        "centroid_size": float(shown.magnitude),
        "centroid_axis": float(shown.axis),
        "mean_size": float(np.abs(points).mean()) if points.size else np.nan,
        "data_long": np.sqrt(values[1] * data),
        "data_short": np.sqrt(values[0] * data),
        "mean_bar_x": across * np.sqrt((eyes - 1) * part),
        "mean_bar_y": up * np.sqrt((eyes - 1) * part),
        "ellipse_turn": turn,
    }
