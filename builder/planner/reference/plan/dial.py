"""Numbers that feed the dial: points on the screen as complex numbers, turned as the surgeon sits."""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import circle
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, there

TEMPORAL, FROM_TEMPORAL = np.array([180.0, 0.0]), np.array([90.0, -90.0])  # right, left eye
TUNNEL = np.array([0.86, 0.98])
ARC = np.linspace(-1.0, 1.0, 9)
TICK_TURNS = 36
# Of a ring segment: out along its outer edge, back along the inner one, closed, then a zigzag as hatch.
SHARE = np.round(np.concatenate([np.arange(13) / 12, np.arange(12, -1, -1) / 12, [0.0, 0.0], np.arange(2, 26) / 25]), 6)
OUTER = np.concatenate([np.ones(13), np.zeros(13), [1.0], np.arange(25) % 2])


def dial(values: Values, words: Words) -> None:
    """Every point of the dial of each eye; what is not there, or not released, is parked outside the axes."""
    eye, w = EyeValues(values), words.get
    temporal = values.get("plan", "surgeon_seat") == w("choice", "temporal")
    turn = np.where(temporal[:, None], FROM_TEMPORAL, 180.0)
    screen = circle.unit(turn)[..., None]
    radius = {
        end: np.asarray(value / eye.limbus_diameter)
        for end, value in (
            ("inner", eye.segment_inner_diameter),
            ("outer", eye.segment_inner_diameter + 2 * eye.segment_width),
        )
    }
    shown = there(eye.released_axis)
    values.put(
        "eyes",
        dial_turn=turn,
        dial_marks=shown.astype(float),
        segment_inner_radius=radius["inner"],
        segment_outer_radius=radius["outer"],
    )
    _put(values, "numbers", number=CONSTANTS.dial_number_radius * circle.unit(np.arange(0.0, 360.0, 30.0)) * screen)
    side = np.broadcast_to(np.stack([180 - TEMPORAL, TEMPORAL], axis=-1), (*turn.shape, 2))
    out = circle.unit(side) * screen
    values.put("sides", side_degrees=side)
    word = (
        1j * CONSTANTS.dial_word_drop * np.where(np.round(out.imag) == 1, 1, -1)
    )  # beyond the number at the top, else below it
    _put(values, "sides", side=CONSTANTS.dial_number_radius * out + word, reference=CONSTANTS.dial_mark_radius * out)
    axis = eye.total_axis
    both = np.array([-1.0, 1.0])
    _put(
        values,
        "line_ends",
        steep=_line(np.where(eye.released == 1, axis, np.nan), both * CONSTANTS.dial_steep_radius, screen),
        bar=_line(np.where(shown, axis, np.nan), both * CONSTANTS.dial_lens_radius, screen),
        tunnel=_line(eye.tunnel_entry, TUNNEL, screen),
    )
    at, half = (values.get("openings", key) for key in ("opening_at", "opening_half_angle"))
    arcs = [circle.unit(at[..., n, None]) * circle.unit(half[..., n, None] * ARC) * screen for n in range(3)]
    _put(values, "arc_points", main=arcs[0], port1=arcs[1], port2=arcs[2])
    cuts = values.get("cuts", "old_cuts")
    values.put("cuts", cut_turned=cuts + turn[..., None])
    for name in ("inner", "middle", "outer"):
        points = getattr(CONSTANTS, f"dial_cut_{name}") * circle.unit(cuts) * screen
        values.put("cuts", **{f"cut_across_{name}": _parked(points.real), f"cut_up_{name}": _parked(points.imag)})
    known = there(radius["inner"]) & there(radius["outer"])
    edge = np.where(
        known[..., None], np.where(OUTER == 1, radius["outer"][..., None], radius["inner"][..., None]), np.nan
    )
    start, length = (values.get("segments", key)[..., None] for key in ("arc_start", "arc_length"))
    rings = [edge * circle.unit(start[..., n, :]) * circle.unit(length[..., n, :] * SHARE) * screen for n in (0, 1)]
    values.put("outline", edge_radius=edge)
    _put(values, "outline", seg1=rings[0], seg2=rings[1])
    _comb(values, turn.shape[0])


def _line(axis: Array, radii: Array, screen: np.ndarray) -> np.ndarray:
    return radii * circle.unit(axis)[..., None] * screen


def _comb(values: Values, patients: int) -> None:
    """Three points a tick: from the limbus inward and back."""
    degrees = np.repeat(np.arange(TICK_TURNS + 1) * CONSTANTS.dial_tick_step, 3)[1:-2]
    inner = np.where(np.isin(degrees, np.arange(0, 361, 30)), CONSTANTS.dial_long_tick, CONSTANTS.dial_short_tick)
    radius = np.where(np.arange(degrees.size) % 3 == 0, inner, 1.0)
    points = radius * circle.unit(degrees)
    rows = {"tick_degrees": degrees, "tick_radius": radius, "tick_across": points.real, "tick_up": points.imag}
    values.put("ticks", **{key: np.broadcast_to(row, (patients, row.size)) for key, row in rows.items()})


def _put(values: Values, owner: str, **points: np.ndarray) -> None:
    for key, point in points.items():
        values.put(owner, **{f"{key}_across": _parked(point.real), f"{key}_up": _parked(point.imag)})


def _parked(row: Array) -> Array:
    return np.where(np.isnan(row), CONSTANTS.parked, row)
