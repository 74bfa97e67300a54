"""Incisions and what they keep clear of, the reading of the dial, the opening, the backup lens."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from builder.reference import circle, vergence
from builder.reference import lens_position as place
from builder.reference.constants import CONSTANTS
from builder.reference.plan.cells import Array, EyeValues, Values, WordArray, flag, lowest, select, there
from builder.reference.plan.power import FORMULAS
from builder.reference.plan.readings import Reader
from builder.reference.vectors import fold_axis
from builder.spec.words import Words

Say = Callable[[str, str], str]
SLACK = CONSTANTS.rounding_slack
WISHES = np.arange(-30.0, 31.0, 5.0)
WISH_KEYS = [f"less{-n:.0f}" if n < 0 else f"plus{n:.0f}" if n else "wish" for n in WISHES]
OPENINGS = {"main_opening": "main", "port1": "port1", "port2": "port2"}
SULCUS_FIELDS = {
    "sulcus_a": "lens_a",
    "sulcus_surgeon_factor": "lens_surgeon_factor",
    "sulcus_hoffer_pacd": "lens_hoffer_pacd",
    "sulcus_haigis_a0": "lens_haigis_a0",
    "sulcus_haigis_a1": "lens_haigis_a1",
    "sulcus_haigis_a2": "lens_haigis_a2",
    "sulcus_from": "lens_power_from",
    "sulcus_to": "lens_power_to",
    "sulcus_step": "lens_power_step",
}


def read_sulcus_lens(reader: Reader, words: Words) -> None:
    """The three-piece lens: a name of the table, of no other kind."""
    names, kinds = (reader.values.get("lenses", key) for key in ("lens_name", "lens_kind"))

    def another_kind(accepted: WordArray) -> Array:
        wrong = np.full(accepted.shape, np.nan)
        for patient, side in np.ndindex(accepted.shape):
            if accepted[patient, side]:
                at = list(names[patient]).index(accepted[patient, side])
                wrong[patient, side] = float(kinds[patient, at] != words.get("choice", "three_piece"))
        return wrong

    reader.read("sulcus_lens", another_kind, lambda patient: list(names[patient]))


def clearances(values: Values, words: Words) -> None:
    """Each opening against each obstacle on the circle and against the segments radially; the meridians near the wish."""
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
    missing = partly.any(axis=-1) | lacking | ((eye.corneal_diagnosis == w("choice", "radial_cuts")) & ~cut)
    at = np.concatenate(
        [eye.tunnel_entry[..., None], np.stack([start, end], axis=-1).reshape(*start.shape[:-1], 4), cuts], axis=-1
    )
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
        radial = _radially(w, position, np.nan_to_num(faces).any(axis=-1), room)
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
            "opening_facing": np.where(there(position), flag(np.nan_to_num(faces).any(axis=-1)), np.nan),
            "facing_word": radial,
            "opening_word": _worst(w, nearest, radial, missing),
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
                (gap < 0, w("word", "crosses")),
                (gap < CONSTANTS.close_degrees, w("word", "close_to")),
            ],
            w("word", "clear_of"),
        ),
        **table,
    )
    _wishes(values, w, at, missing)
    word = values.get("openings", "opening_word")
    order = [w("word", key) for key in ("crosses", "close_to", "not_known", "clear_of")]
    worst_port = select([((word[..., 1:] == name).any(axis=-1), name) for name in order])
    clear = np.where(there(eye.incision_meridian), (values.get("wishes", "wish_word") == order[3]).sum(axis=-1), np.nan)
    unknown = (values.get("wishes", "wish_word") == order[2]).any(axis=-1)
    said = select(
        [
            (~there(clear), ""),
            (clear > 0, w("word", "room_left")),
            (unknown, w("word", "room_not_known")),
            (cut, w("word", "no_room_cuts")),
        ],
        w("word", "no_room"),
    )
    values.put(
        "eyes",
        limbus_diameter=limbus,
        geometry_missing=flag(missing),
        incision_warning=word[..., 0],
        side_port_warning=worst_port,
        incision_to_tunnel_degrees=gap[..., 0],
        incision_to_tunnel_mm=table["main_way"][..., 0],
        clear_meridians=clear,
        room_said=said,
        limbus_said=select([(there(eye.white_to_white), w("word", "limbus_measured"))], w("word", "limbus_default")),
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
            (room < -SLACK, w("word", "crosses")),
            (room < CONSTANTS.close_radial - SLACK, w("word", "close_to")),
        ],
        w("word", "clear_of"),
    )


def _worst(w: Say, gap: Array, radial: WordArray, missing: np.ndarray) -> WordArray:
    return select(
        [
            (radial == "", ""),
            ((gap < 0) | (radial == w("word", "crosses")), w("word", "crosses")),
            ((gap < CONSTANTS.close_degrees) | (radial == w("word", "close_to")), w("word", "close_to")),
            (missing | (radial == w("word", "not_known")), w("word", "not_known")),
        ],
        w("word", "clear_of"),
    )


def _wishes(values: Values, w: Say, at: Array, missing: np.ndarray) -> None:
    eye = EyeValues(values)
    meridian = np.mod(np.round(eye.incision_meridian[..., None] + WISHES, circle.SHOWN), 360)
    start, length = (values.get("segments", key) for key in ("arc_start", "arc_length"))
    far = circle.apart(at[..., :, None], meridian[..., None, :])
    values.put("obstacles", **{f"apart_{key}": far[..., n] for n, key in enumerate(WISH_KEYS)})
    gap = lowest(*np.moveaxis(far, -2, 0)) - values.get("openings", "opening_half_angle")[..., :1]
    faces = [_faces(meridian, start[..., n : n + 1], length[..., n : n + 1]) for n in (0, 1)]
    facing = np.nan_to_num(np.stack(faces)).any(axis=0)
    room = np.broadcast_to(values.get("openings", "opening_room")[..., :1], meridian.shape)
    radial = _radially(w, meridian, facing, room)
    values.put(
        "wishes",
        wish_meridian=meridian,
        wish_gap=gap,
        wish_faces1=faces[0],
        wish_faces2=faces[1],
        wish_facing=radial,
        wish_word=_worst(w, gap, radial, missing[..., None]),
    )


def dial_reading(values: Values, words: Words) -> None:
    """Marks meant and found, where to set the dial, and whether the optic covers the opening."""
    eye, w = EyeValues(values), words.get
    off = eye.mark_found - eye.mark_meant
    reading = fold_axis(eye.marks_axis - off)
    whole = {
        "dial_shown": fold_axis(np.round(np.round(reading, 6))),
        "axis_shown": fold_axis(np.round(np.round(eye.marks_axis, 6))),
    }
    said = np.full(off.shape, "", dtype=object)
    for at in np.ndindex(off.shape):
        if not np.isnan(whole["dial_shown"][at]):
            said[at] = (
                f"{w('word', 'set_dial')}{whole['dial_shown'][at]:.0f}{w('word', 'to_land')}{whole['axis_shown'][at]:.0f}"
            )
        elif not np.isnan(whole["axis_shown"][at]):
            said[at] = f"{w('word', 'marks_untyped')}{whole['axis_shown'][at]:.0f}"
    overlap = (eye.optic_diameter - eye.opening_diameter) / 2
    cover = select(
        [
            (~there(overlap), ""),
            (overlap < SLACK, w("word", "overlap_none")),
            (overlap < CONSTANTS.narrow_overlap - SLACK, w("word", "overlap_narrow")),
        ],
        w("word", "overlap_good"),
    )
    values.put(
        "eyes", marks_off=off, dial_reading=reading, **whole, dial_said=said, optic_overlap=overlap, overlap_said=cover
    )


def backup(values: Values, words: Words) -> None:
    """The three-piece lens in the sulcus and with a captured optic, beside the usual rule."""
    eye, w = EyeValues(values), words.get
    names = values.get("lenses", "lens_name")
    hits = (eye.sulcus_lens[..., None] == names[:, None, :]) & there(eye.sulcus_lens)[..., None]
    chosen = hits.any(axis=-1)
    for key, field in SULCUS_FIELDS.items():
        taken = np.take_along_axis(values.get("lenses", field), hits.argmax(axis=-1), axis=1)
        values.put("eyes", **{key: np.where(chosen, taken, np.nan)})
    by_formula = np.stack(
        [
            place.position_srkt_retzlaff1990(eye.axial_length, eye.position_k, eye.sulcus_a).position,
            place.position_holladay1988(eye.axial_length, eye.position_k, eye.sulcus_surgeon_factor).position,
            place.position_hoffer1993(eye.axial_length, eye.position_k, eye.sulcus_hoffer_pacd).position,
            place.position_haigis2000(
                eye.axial_length, eye.chamber_depth, eye.sulcus_haigis_a0, eye.sulcus_haigis_a1, eye.sulcus_haigis_a2
            ).position,
        ],
        axis=-1,
    )
    assert by_formula.shape[-1] == len(FORMULAS)
    lead = np.nan_to_num(eye.lead_place, nan=1.0).astype(int)[..., None] - 1
    bag = np.where(there(eye.lead_place), np.take_along_axis(by_formula, lead, axis=-1)[..., 0], np.nan)
    values.put("formulas", backup_position_by=by_formula)
    raw = np.stack([bag - CONSTANTS.sulcus_forward, bag], axis=-1)
    cornea, length = eye.lead_cornea[..., None], eye.lead_optical_length[..., None]
    fits = vergence.position_is_valid(length, raw) & (bag[..., None] <= CONSTANTS.deepest_lens)
    position = np.where(fits, raw, np.nan)
    exact = vergence.lens_power(cornea, length, position, eye.goal_refraction[..., None])
    first, last, step = (values.get("eyes", key)[..., None] for key in ("sulcus_from", "sulcus_to", "sulcus_step"))
    number, end = (exact - first) / step, np.round((last - first) / step, 6)
    nearest = (eye.step_rule == w("choice", "nearest"))[..., None]
    taken = np.where(
        there(eye.step_rule)[..., None],
        np.where(nearest, np.floor(number + SLACK + 0.5), np.ceil(number - SLACK)),
        np.nan,
    )
    inside = (number >= -SLACK) & (number <= end + SLACK) & (taken <= end + SLACK)
    power = np.where(inside, first + taken * step, np.nan)
    needed = 1000 * CONSTANTS.index_aqueous / (length - position)
    at_cornea = vergence.refraction(cornea, length, position, power, 0.0)
    worn = np.where(
        1 + CONSTANTS.vertex_of_formulas * at_cornea / 1000 > 0,
        vergence.refraction(cornea, length, position, power),
        np.nan,
    )
    reach = 1000 * CONSTANTS.index_aqueous / (cornea + eye.goal_at_cornea[..., None]) - position
    values.put(
        "backups",
        backup_raw_position=raw,
        backup_position=position,
        backup_reach=reach,
        backup_exact=exact,
        backup_steps_exact=number,
        backup_steps_to_last=np.broadcast_to(end, raw.shape),
        backup_steps=taken,
        backup_power=power,
        backup_left=needed - power,
        backup_at_cornea=at_cornea,
        backup_refraction=worn,
    )
    lens = eye.lens_power
    bands = [
        CONSTANTS.sulcus_rule_first - SLACK,
        CONSTANTS.sulcus_rule_second - SLACK,
        CONSTANTS.sulcus_rule_third + SLACK,
    ]
    less = np.array([0.0, CONSTANTS.sulcus_less_low, CONSTANTS.sulcus_less_middle, CONSTANTS.sulcus_less_high])[
        np.searchsorted(bands, lens)
    ]
    less = np.where(there(lens), less, np.nan)
    apart = np.abs(power[..., 0] - (lens - less))
    note = select(
        [
            (~(there(apart) & there(eye.mean_k)), ""),
            (apart < CONSTANTS.sulcus_note_from + SLACK, w("word", "sulcus_agrees")),
            (eye.mean_k > CONSTANTS.goal_band_low + SLACK, w("word", "sulcus_differs_steep")),
        ],
        w("word", "sulcus_differs"),
    )
    values.put(
        "eyes",
        sulcus_place=np.where(chosen, hits.argmax(axis=-1) + 1.0, np.nan),
        sulcus_bag_position=bag,
        sulcus_power=power[..., 0],
        sulcus_rule_less=less,
        sulcus_power_rule=lens - less,
        sulcus_note=note,
    )
