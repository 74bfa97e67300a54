"""Incisions and what they keep clear of, the reading of the dial, and how far the optic overlaps the capsule.

Another method: angles between positions by complex unit vectors (circle), where the cells wrap by MOD; half-widths by
an arc sine, where they ask ATAN2.
An echo: ranks, room to the segments and what is missing by comparisons, the reading of the dial by folded axes and
whole degrees, as the cells compute them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words
from builder.planner.reference import circle
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, WordArray, flag, lowest, select, there
from builder.planner.reference.vectors import fold_axis

WISHES = np.arange(-30.0, 31.0, 5.0)
RANKS = ("crosses", "close_to", "not_known", "clear_of")  # words, the worst first
CLEAR = 4.0


def clearances(values: Values, words: Words) -> None:
    """Each opening against each obstacle on the circle and against the segments radially; meridians near the wish."""
    eye, w = EyeValues(values), words.get
    limbus = np.where(there(eye.white_to_white), eye.white_to_white, CONSTANTS.default_limbus)
    cuts = values.get("cuts", "old_cuts")
    start, end = (
        np.stack([values.get("eyes", f"segment{n}_{which}") for n in (1, 2)], axis=-1) for which in ("start", "end")
    )
    length = np.where(np.abs(end - start) == 360, 360.0, circle.turn(start, end))
    values.put("segments", arc_length=length)
    lacking = (eye.ring_segments == w("choice", "yes")) & ~(there(length).any(axis=-1) & there(eye.tunnel_entry))
    uncut = (eye.corneal_diagnosis == w("choice", "radial_cuts")) & ~there(cuts).any(axis=-1)
    missing = (there(start) != there(end)).any(axis=-1) | lacking | uncut
    at = np.concatenate(
        [eye.tunnel_entry[..., None], np.stack([start, end], axis=-1).reshape(*start.shape[:-1], 4), cuts], axis=-1
    )
    side, deep = (np.full(limbus.shape, size) for size in (CONSTANTS.side_port_width, CONSTANTS.side_port_length))
    shapes = {
        "main": (eye.incision_meridian, eye.incision_width, eye.tunnel_length),
        "port1": (eye.side_port1, side, deep),
        "port2": (eye.side_port2, side, deep),
    }
    found: dict[str, list[Array]] = {key: [] for key in ("half_angle", "gap", "room", "rank")}
    table: dict[str, Array] = {}
    for key, (position, width, inward) in shapes.items():
        half = circle.half_width(width, limbus)
        gap = circle.apart(at, position[..., None]) - half[..., None]
        table |= {f"{key}_gap": gap, f"{key}_way": circle.along_limbus(gap, limbus[..., None])}
        room = limbus / 2 - inward - (eye.segment_inner_diameter / 2 + eye.segment_width)
        nearest = lowest(*np.moveaxis(gap, -1, 0))
        rank = _rank(nearest, _facing(position, start, length), room, missing)
        for row, column in zip(found, (half, nearest, room, np.where(there(position), rank, np.nan)), strict=True):
            found[row].append(column)
    openings = {row: np.stack(columns, axis=-1) for row, columns in found.items()}
    values.put("openings", **{f"opening_{row}": columns for row, columns in openings.items()})
    nothing = np.zeros(at.shape, bool)
    near = np.where(there(table["main_gap"]), _rank(table["main_gap"], nothing, np.nan, nothing), np.nan)
    values.put("obstacles", main_word=_in_words(near, words), **table)
    meridian = np.mod(np.round(eye.incision_meridian[..., None] + WISHES, circle.SHOWN), 360)
    far = lowest(*np.moveaxis(circle.apart(at[..., :, None], meridian[..., None, :]), -2, 0))
    gap = far - openings["half_angle"][..., :1]
    facing = _facing(meridian, start[..., None, :], length[..., None, :])
    rank = _rank(gap, facing, openings["room"][..., :1], missing[..., None])
    rank = np.where(there(meridian), rank, np.nan)
    values.put("wishes", wish_meridian=meridian, wish_gap=gap, wish_rank=rank)
    values.put(
        "eyes",
        limbus_diameter=limbus,
        geometry_missing=flag(missing),
        segments_unplaced=flag(lacking),
        cuts_unplaced=flag(uncut),
        incision_warning=_in_words(openings["rank"][..., 0], words),
        side_port_rank=lowest(openings["rank"][..., 1], openings["rank"][..., 2]),
        incision_to_tunnel_degrees=table["main_gap"][..., 0],
        incision_to_tunnel_mm=table["main_way"][..., 0],
        clear_meridians=np.where(there(eye.incision_meridian), (rank == CLEAR).sum(axis=-1), np.nan),
    )


def _facing(position: Array, start: Array, length: Array) -> NDArray[np.bool_]:
    """Whether a position lies in front of one of the arcs (on the last axis)."""
    facing: NDArray[np.bool_] = np.any(circle.turn(start, position[..., None]) <= length, axis=-1)
    return facing


def _rank(gap: Array, facing: NDArray[np.bool_], room: Array | float, missing: NDArray[np.bool_]) -> Array:
    """The worse of what lies beside and what lies inward, counted from 1; what is not typed may be anywhere."""
    slack = CONSTANTS.rounding_slack
    beside = np.select([gap < -slack, gap < CONSTANTS.close_degrees - slack], [1.0, 2.0], CLEAR)
    inward = np.select(
        [~facing, np.isnan(room), room < -slack, room < CONSTANTS.close_radial - slack], [CLEAR, 3.0, 1.0, 2.0], CLEAR
    )
    return np.minimum(np.minimum(beside, inward), np.where(missing, 3.0, CLEAR))


def _in_words(rank: Array, words: Words) -> WordArray:
    return select([(rank == n, words.get("word", key)) for n, key in enumerate(RANKS, start=1)])


def dial_reading(values: Values, words: Words) -> None:
    """Marks meant and found, where to set the dial and read the openings; how many sizes of the overlap are typed."""
    eye, used = EyeValues(values), words.get("word", "used")
    off = eye.mark_found - eye.mark_meant
    reading = fold_axis(eye.marks_axis - off)
    shown = circle.whole(np.stack([eye.incision_meridian, eye.side_port1, eye.side_port2], axis=-1) - off[..., None])
    typed = [values.get("eyes", f"state_{key}") == used for key in ("opening_diameter", "optic_diameter")]
    values.put("openings", opening_reading=np.where(there(shown), np.mod(shown, 360), np.nan))
    values.put(
        "eyes",
        overlap_typed=flag(typed[0]) + flag(typed[1]),
        marks_off=off,
        dial_reading=reading,
        dial_shown=fold_axis(circle.whole(reading)),
        axis_shown=fold_axis(circle.whole(eye.marks_axis)),
        optic_overlap=(eye.optic_diameter - eye.opening_diameter) / 2,
    )
