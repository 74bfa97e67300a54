"""The theatre page of each eye: what is shown, in which words, and what is withheld."""

from __future__ import annotations

from typing import Any

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference.constants import SLACK
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.cells import EyeValues, Values, WordArray, diagnosed, half_up, select, there
from builder.planner.reference.plan.marks import degrees_said

STATES = ("ready", "check", "not_ready", "not_used")


def pages(values: Values, words: Words) -> None:
    """The rows of both pages, from the rows of the eyes: (n, 1) each."""
    eye, w = EyeValues(values), words.get
    status, released = eye.status, eye.released == 1
    preparer = values.get("plan", "prepared_by")
    prepared = select([(there(preparer), preparer)], w("word", "nobody_yet"))
    values.put("plan", preparer_said=prepared)
    quiet = np.isin(status, [w("word", "status_ready"), w("word", "status_not_used")])
    first = values.get("plan_points", "plan_point_sentence")
    number = values.get("plan_points", "plan_point_number")
    of_plan = np.array(
        [
            next((s for s, n in zip(line, numbers, strict=True) if n == 1), "")
            for line, numbers in zip(first, number, strict=True)
        ],
        dtype=object,
    )
    of_plan = np.broadcast_to(of_plan[:, None], status.shape)
    lines = values.get("reason_lines", "reason_line")
    banners = {w("word", f"status_{key}"): w("word", f"banner_{key}") for key in STATES}
    gap = eye.incision_to_tunnel_degrees
    gap_said = degrees_said(np.maximum(gap, 0.0))
    values.put("eyes", tunnel_gap_said=gap_said)
    rows: dict[str, np.ndarray] = {
        "page_banner": np.where(
            eye.unchecked_shown == 1, w("word", "banner_unchecked"), np.vectorize(banners.get, otypes=[object])(status)
        ),
        "page_people": (w("word", "prepared_short") + prepared)[:, None] + eye.check_said,
        "page_why1": select([(quiet, ""), (there(of_plan), of_plan)], lines[..., 0]),
        "page_why2": select([(quiet, ""), (there(of_plan), lines[..., 0])], lines[..., 1]),
        "page_more": _each(status, lambda n, side: _more(eye, w, n, side)),
        "page_rule_power": np.where(released & there(eye.sulcus_lens), eye.sulcus_power_rule, np.nan),
        "page_dial_said": select(
            [(released, _opening(w) + select([(there(eye.dial_said), eye.dial_said)], w("word", "no_axis")))]
        ),
        "page_openings": select(
            [(there(eye.main_read + eye.ports_read), w("word", "on_marker") + eye.main_read + eye.ports_read)]
        ),
        "page_marks": _each(status, lambda n, side: _marks(eye, w, n, side)),
        "page_dial_reading": _each(status, lambda n, side: _dial(eye, w, bool(released[n, side]), n, side)),
        "page_ports": _each(status, lambda n, side: _ports(eye, w, n, side)),
        "page_segments": _each(status, lambda n, side: _segments(values, w, n, side)),
        "page_room": select(
            [
                (
                    np.isin(eye.incision_warning, [w("word", "crosses"), w("word", "close_to")]),
                    w("word", "incision_opening") + eye.incision_warning + w("word", "colon") + eye.room_said,
                )
            ]
        ),
        "page_tunnel": select(
            [
                (~there(gap), ""),
                (gap < -SLACK, w("word", "tunnel_crossed")),
            ],
            w("word", "tunnel_clear") + gap_said,
        ),
        "page_note": select([(released & there(eye.sulcus_note), w("word", "backup_opening") + eye.sulcus_note)]),
        "page_long": select([((eye.long_eye_turns == 1) & (eye.released_cylinder > 0), w("word", "long_eye_ring"))]),
        "page_cuts": select([(diagnosed(eye, words, "radial_cuts"), w("word", "page_cuts_said"))]),
        "page_overlap": select([(eye.overlap_typed > 0, w("word", "optic_opening") + eye.overlap_shown)]),
    }
    rows |= _of_plan(values, w, status)
    for side, name in enumerate(EYES):
        values.put(f"page_{name}", **{key: row[:, side : side + 1] for key, row in rows.items()})


def _opening(w: Any) -> WordArray:
    return np.array([w("word", f"{name}_opening") for name in EYES], dtype=object)


def _each(like: np.ndarray, text: Any) -> WordArray:
    result = np.empty(like.shape, dtype=object)
    for place in np.ndindex(like.shape):
        result[place] = text(*place)
    return result


def _marks(eye: EyeValues, w: Any, patient: int, side: int) -> str:
    meant, found, axis = (row[patient, side] for row in (eye.mark_meant, eye.mark_found, eye.released_axis))
    if not np.isnan(meant + found):
        where = f"{w('word', 'mark_meant_at')}{half_up(meant)}{w('word', 'mark_found_at')}{half_up(found)}"
        return f"{where}{w('word', 'mark_laid')}{half_up(meant)}"
    return "" if np.isnan(axis) else str(w("word", "marks_by_hand"))


def _ports(eye: EyeValues, w: Any, patient: int, side: int) -> str:
    at = [row[patient, side] for row in (eye.side_port1, eye.side_port2)]
    return str(w("word", "comma")).join(half_up(p) for p in at if not np.isnan(p)) or str(w("word", "page_none"))


def _dial(eye: EyeValues, w: Any, released: bool, patient: int, side: int) -> str:
    reading = eye.dial_shown[patient, side]
    return half_up(reading) if released and not np.isnan(reading) else str(w("word", "page_none"))


def _segments(values: Values, w: Any, patient: int, side: int) -> str:
    ends = []
    for number in (1, 2):
        if not np.isnan(values.get("segments", "arc_length")[patient, side, number - 1]):
            start, end = (values.get("eyes", f"segment{number}_{end}")[patient, side] for end in ("start", "end"))
            ends.append(f"{half_up(start)}{w('word', 'to_degrees')}{half_up(end)}")
    if not ends:
        return ""
    inner = values.get("eyes", "segment_inner_diameter")[patient, side]
    wide = "" if np.isnan(inner) else f"{w('word', 'inner_diameter')}{half_up(inner, 2)}{w('word', 'mm_end')}"
    return str(w("word", "segments_at") + w("word", "comma").join(ends) + wide)


def _more(eye: EyeValues, w: Any, patient: int, side: int) -> str:
    status, warnings, count = (row[patient, side] for row in (eye.status, eye.warnings_live, eye.point_count))
    if status == w("word", "status_ready"):
        by = eye.warnings_confirmed_by[patient, side]
        return f"{w('word', 'confirmed_short')}{warnings:.0f}{w('word', 'confirmed_end')}{by}" if warnings else ""
    if status == w("word", "status_not_used") or count <= 2:
        return ""
    return f"{w('word', 'all_reasons')}{count:.0f}{w('word', 'reasons_end')}"


def _of_plan(values: Values, w: Any, like: np.ndarray) -> dict[str, np.ndarray]:
    """Seat and local protocol: the same on both pages."""
    seat = values.get("plan", "surgeon_seat")
    seen = select([(seat == w("choice", "temporal"), w("word", "seen_temporal"))], w("word", "seen_head"))
    rule = values.get("plan", "local_rule1")
    rows = {
        "page_seat": seen,
        "page_rule1": select([(there(rule), rule)], w("word", "no_local_rule")),
    }
    return {key: np.broadcast_to(row[:, None], like.shape) for key, row in rows.items()}
