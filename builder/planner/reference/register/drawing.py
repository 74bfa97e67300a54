"""Numbers that feed the pictures: always numbers, what is not there is parked outside the axes."""

from __future__ import annotations

import numpy as np

from builder.planner.reference.constants import CONSTANTS, SLACK
from builder.planner.reference.register.astigmatism import CLOUDS
from builder.planner.reference.register.rows import Array, Rows
from builder.planner.reference.vectors import ComplexArray

DRAWN = ("origin", "outcome", "missed")
OF_CLOUD = ("mean_x", "mean_y", "ellipse_turn", "data_long", "data_short", "mean_bar_x", "mean_bar_y")
ROUND = np.deg2rad(np.arange(0, 361, 10))
ARMS = np.array([-1, 1, 0, -1j, 1j])  # of a cross
DIOPTRES = 3  # end of the picture over time


def _parked(values: Array) -> Array:
    return np.where(np.isnan(values), CONSTANTS.parked, values)


def drawings(rows: Rows, clouds: dict[str, ComplexArray]) -> None:
    """Points, ellipses, crosses of the means, all to one scale, and the errors over time."""
    most = max(np.abs(clouds[key])[~np.isnan(clouds[key])].max(initial=0.0) for key in DRAWN)
    edge = float(np.floor(np.round(most, 6) + 1))
    circle = np.exp(1j * ROUND)
    rows.put("plan", plot_edge=edge)
    rows.put("outline", edge_across=circle.real, edge_up=circle.imag)
    for key in DRAWN:
        mean_x, mean_y, turn, long, short, bar_x, bar_y = (
            rows.values["clouds", name][CLOUDS.index(key)] for name in OF_CLOUD
        )
        _put(rows, "lines", f"dot_{key}", np.where(np.isnan(clouds[key]), np.nan, clouds[key] / edge))
        centre, direction = complex(mean_x, mean_y), np.exp(1j * np.deg2rad(turn))
        _put(
            rows,
            "outline",
            f"data_{key}",
            (centre + direction * (long * circle.real + 1j * short * circle.imag)) / edge,
        )
        _put(rows, "bar_ends", f"mean_{key}", (centre + bar_x * ARMS.real + 1j * bar_y * ARMS.imag) / edge)
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
