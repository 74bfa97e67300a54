"""Incisions and what they keep clear of, the reading of the dial, the opening of the capsule.

Another method: angles between positions by complex unit vectors (circle), where the cells wrap by MOD; half-widths by
an arc sine, where they ask ATAN2.
An echo: ranks, room to the segments and what is missing, by comparisons as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words
from builder.planner.reference import circle
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import (
    Array,
    EyeValues,
    Values,
    WordArray,
    flag,
    lowest,
    place_of,
    select,
    there,
)

Say = Callable[[str, str], str]
WISHES = np.arange(-30.0, 31.0, 5.0)
WISH_KEYS = [f"less{-n:.0f}" if n < 0 else f"plus{n:.0f}" if n else "wish" for n in WISHES]


def clearances(values: Values, words: Words) -> None:
    """Each opening against each obstacle on the circle and against the segments radially; meridians near the wish."""
    eye, w = EyeValues(values), words.get
    limbus = np.where(there(eye.white_to_white), eye.white_to_white, CONSTANTS.default_limbus)
    cuts = values.get("cuts", "old_cuts")
    start, end = (
        np.stack([values.get("eyes", f"segment{n}_{which}") for n in (1, 2)], axis=-1) for which in ("start", "end")
    )
    whole = np.abs(end - start) == 360
    length = np.where(whole, 360.0, circle.turn(start, end))
    partly = there(start) != there(end)
    values.put(
        "segments",
        arc_start=start,
        arc_end=end,
        arc_length=length,
        arc_there=flag(there(length)),
        arc_partly=flag(partly),
    )
    segments, cut = there(length).any(axis=-1), there(cuts).any(axis=-1)
    lacking = (eye.ring_segments == w("choice", "yes")) & ~(segments & there(eye.tunnel_entry))
    uncut = (eye.corneal_diagnosis == w("choice", "radial_cuts")) & ~cut
    missing = partly.any(axis=-1) | lacking | uncut
    at = np.concatenate(
        [eye.tunnel_entry[..., None], np.stack([start, end], axis=-1).reshape(*start.shape[:-1], 4), cuts], axis=-1
    )
    order = [w("word", key) for key in ("crosses", "close_to", "not_known", "clear_of")]
    found: dict[str, list[np.ndarray]] = {}
    outer = eye.segment_inner_diameter / 2 + eye.segment_width
    side = np.full(limbus.shape, CONSTANTS.side_port_width)
    shapes = {
        "main": (eye.incision_meridian, eye.incision_width, eye.tunnel_length),
        "port1": (eye.side_port1, side, np.full(limbus.shape, CONSTANTS.side_port_length)),
        "port2": (eye.side_port2, side, np.full(limbus.shape, CONSTANTS.side_port_length)),
    }
    table: dict[str, np.ndarray] = {}
    for key, (position, width, deep) in shapes.items():
        half = circle.half_width(width, limbus)
        gap = circle.apart(at, position[..., None]) - half[..., None]
        table[f"{key}_gap"], table[f"{key}_way"] = gap, circle.along_limbus(gap, limbus[..., None])
        room = limbus / 2 - deep - outer
        faces = _faces(position[..., None], start, length)
        nearest = lowest(*np.moveaxis(gap, -1, 0))
        radial = _radially(w, position, np.any(np.nan_to_num(faces), axis=-1), room)
        columns = {
            "opening_at": position,
            "opening_width": width,
            "opening_length": deep,
            "opening_sine": width / limbus,
            "opening_half_angle": half,
            "opening_gap": nearest,
            "opening_room": room,
            "faces_seg1": faces[..., 0],
            "faces_seg2": faces[..., 1],
            "opening_facing": np.where(there(position), flag(np.any(np.nan_to_num(faces), axis=-1)), np.nan),
            "opening_facing_rank": place_of(radial, order),
            **_ranked("opening", _worst(w, nearest, radial, missing), nearest, order),
        }
        for row, column in columns.items():
            found.setdefault(row, []).append(column)
    values.put("openings", **{row: np.stack(columns, axis=-1) for row, columns in found.items()})
    gap = table["main_gap"]
    values.put(
        "obstacles",
        obstacle_at=at,
        main_word=select(
            [
                (~there(gap), ""),
                (gap < -CONSTANTS.rounding_slack, w("word", "crosses")),
                (gap < CONSTANTS.close_degrees - CONSTANTS.rounding_slack, w("word", "close_to")),
            ],
            w("word", "clear_of"),
        ),
        **table,
    )
    _wishes(values, w, at, missing, order)
    rank, near = values.get("openings", "opening_rank"), values.get("wishes", "wish_rank")
    clear = np.where(there(eye.incision_meridian), (near == 4).sum(axis=-1), np.nan)
    values.put(
        "eyes",
        limbus_diameter=limbus,
        geometry_missing=flag(missing),
        segments_unplaced=flag(lacking),
        cuts_unplaced=flag(uncut),
        incision_warning=_in_words(rank[..., 0], order),
        side_port_rank=lowest(rank[..., 1], rank[..., 2]),
        incision_to_tunnel_degrees=gap[..., 0],
        incision_to_tunnel_mm=table["main_way"][..., 0],
        clear_meridians=clear,
    )


def _faces(position: Array, start: Array, length: Array) -> Array:
    """1 where a position lies in front of an arc, 0 where not, NaN where one is absent."""
    way = circle.turn(start, position)
    return np.where(there(way) & there(length), flag(way <= length), np.nan)


def _radially(w: Say, position: Array, facing: np.ndarray, room: Array) -> WordArray:
    return select(
        [
            (~there(position), ""),
            (~facing, w("word", "clear_of")),
            (~there(room), w("word", "not_known")),
            (room < -CONSTANTS.rounding_slack, w("word", "crosses")),
            (room < CONSTANTS.close_radial - CONSTANTS.rounding_slack, w("word", "close_to")),
        ],
        w("word", "clear_of"),
    )


def _worst(w: Say, gap: Array, radial: WordArray, missing: np.ndarray) -> WordArray:
    return select(
        [
            (radial == "", ""),
            ((gap < -CONSTANTS.rounding_slack) | (radial == w("word", "crosses")), w("word", "crosses")),
            (
                (gap < CONSTANTS.close_degrees - CONSTANTS.rounding_slack) | (radial == w("word", "close_to")),
                w("word", "close_to"),
            ),
            (missing | (radial == w("word", "not_known")), w("word", "not_known")),
        ],
        w("word", "clear_of"),
    )


def _ranked(name: str, word: WordArray, gap: Array, order: Sequence[str]) -> dict[str, Array]:
    """The rank of a verdict, and of the nearest obstacle alone."""
    of_gap = np.where(
        gap < -CONSTANTS.rounding_slack,
        1.0,
        np.where(gap < CONSTANTS.close_degrees - CONSTANTS.rounding_slack, 2.0, 4.0),
    )
    rank = place_of(word, order)
    return {f"{name}_rank": rank, f"{name}_gap_rank": np.where(there(rank), of_gap, np.nan)}


def _in_words(rank: Array, order: Sequence[str]) -> WordArray:
    return select([(rank == n, word) for n, word in enumerate(order, start=1)])


def _wishes(values: Values, w: Say, at: Array, missing: np.ndarray, order: Sequence[str]) -> None:
    eye = EyeValues(values)
    meridian = np.mod(np.round(eye.incision_meridian[..., None] + WISHES, circle.SHOWN), 360)
    start, length = (values.get("segments", key) for key in ("arc_start", "arc_length"))
    far = circle.apart(at[..., :, None], meridian[..., None, :])
    values.put("obstacles", **{f"apart_{key}": far[..., n] for n, key in enumerate(WISH_KEYS)})
    gap = lowest(*np.moveaxis(far, -2, 0)) - values.get("openings", "opening_half_angle")[..., :1]
    faces = [_faces(meridian, start[..., n : n + 1], length[..., n : n + 1]) for n in (0, 1)]
    facing: NDArray[np.bool_] = np.any(np.nan_to_num(np.stack(faces)), axis=0)
    room = np.broadcast_to(values.get("openings", "opening_room")[..., :1], meridian.shape)
    radial = _radially(w, meridian, facing, room)
    values.put(
        "wishes",
        wish_meridian=meridian,
        wish_gap=gap,
        wish_faces1=faces[0],
        wish_faces2=faces[1],
        wish_facing_rank=place_of(radial, order),
        **_ranked("wish", _worst(w, gap, radial, missing[..., None]), gap, order),
    )
