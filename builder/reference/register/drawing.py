"""Numbers that feed the pictures: always numbers, what is not there is parked outside the axes."""

from __future__ import annotations

import numpy as np

from builder.reference.constants import CONSTANTS, SLACK
from builder.reference.register.astigmatism import CLOUDS
from builder.reference.register.rows import Array, Rows
from builder.reference.vectors import ComplexArray

DRAWN = ("origin", "outcome", "missed")
ROUND = np.deg2rad(np.arange(0, 361, 10))
DIOPTRES = 3  # end of the picture over time


def _parked(values: Array) -> Array:
    return np.where(np.isnan(values), CONSTANTS.parked, values)


def drawings(rows: Rows, clouds: dict[str, ComplexArray]) -> None:
    """Points, circles, ellipses, and the errors over time."""
    most = [np.abs(vectors)[~np.isnan(vectors)].max(initial=0.0) for vectors in clouds.values()]
    edges = {key: float(np.floor(np.round(size, 6) + 1)) for key, size in zip(clouds, most, strict=True)}
    rows.put("clouds", circle_edge=[edges[key] for key in CLOUDS])
    circle = np.exp(1j * ROUND)
    rows.put(
        "outline",
        edge_across=circle.real,
        edge_up=circle.imag,
        half_edge_across=circle.real / 2,
        half_edge_up=circle.imag / 2,
    )
    table = {key: rows.values["clouds", key] for key in ("mean_x", "mean_y", "ellipse_turn")}
    for n, key in enumerate(CLOUDS):
        if key not in DRAWN:
            continue
        edge = edges[key]
        _put(rows, "lines", f"dot_{key}", np.where(np.isnan(clouds[key]), np.nan, clouds[key] / edge))
        centre = complex(table["mean_x"][n], table["mean_y"][n])
        turn = np.exp(1j * np.deg2rad(table["ellipse_turn"][n]))
        for name, of in (("data", "data"), ("centre", "centroid")):
            long, short = (rows.values["clouds", f"{of}_{axis}"][n] for axis in ("long", "short"))
            _put(
                rows,
                "outline",
                f"{name}_{key}",
                (centre + turn * (long * circle.real + 1j * short * circle.imag)) / edge,
            )
    _time(rows)


def _put(rows: Rows, name: str, key: str, points: ComplexArray) -> None:
    empty = np.isnan(points)
    rows.put(
        name,
        **{
            f"{key}_across": np.where(empty, CONSTANTS.parked, points.real),
            f"{key}_up": np.where(empty, CONSTANTS.parked, points.imag),
        },
    )


def _time(rows: Rows) -> None:
    years, error = rows.line("line_years"), rows.line("error_lead")
    there = ~(np.isnan(years) | np.isnan(error))
    rows.put(
        "lines",
        time_across=np.where(there & (years <= CONSTANTS.drawn_years + SLACK), -years, CONSTANTS.parked),
        time_up=np.where(there, np.clip(error, -DIOPTRES, DIOPTRES), CONSTANTS.parked),
    )
    means = rows.values["periods", "group_mean"]
    middle = 0.5 - np.arange(1, len(means) + 1)
    rows.put(
        "periods", year_across=np.where(np.isnan(means), CONSTANTS.parked, middle), year_up=_parked(np.array(means))
    )
