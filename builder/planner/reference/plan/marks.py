"""The reading of the dial, the opening of the capsule, and the words for degrees."""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import circle
from builder.planner.reference.constants import CONSTANTS, SLACK
from builder.planner.reference.plan.cells import Array, EyeValues, Values, WordArray, flag, half_up, select, there
from builder.planner.reference.vectors import axis_difference, fold_axis


def degrees_said(position: Array) -> WordArray:
    """Whole degrees, halves away from zero; "" where there is no position."""
    texts = ["" if np.isnan(degrees) else half_up(degrees) for degrees in position.flat]
    return np.array(texts, dtype=object).reshape(position.shape)


def joined(wanted: Array, *pieces: WordArray | str) -> WordArray:
    """The pieces of a sentence one after the other, "" where what it is about is not there."""
    whole = np.full(wanted.shape, "", dtype=object)
    for piece in pieces:
        whole = whole + piece
    return np.where(there(wanted), whole, "").astype(object)


def _on_the_marker(values: Values, words: Words, off: Array) -> None:
    """Where each opening is read on a marker that lies on the ink, whole degrees; `off`: ink found minus intended."""
    w = words.get
    shown = circle.whole(values.get("openings", "opening_at") - off[..., None])
    read = np.where(there(shown), np.mod(shown, 360), np.nan)
    said = degrees_said(read)
    main, port1, port2 = np.moveaxis(said, -1, 0)
    comma = np.where((port1 != "") & (port2 != ""), w("word", "comma"), "").astype(object)
    ports = port1 + comma + port2
    main_read = select([(main != "", w("word", "main_at") + main)])
    ports_read = select([(ports != "", w("word", "ports_at") + ports)])
    values.put("openings", opening_reading=read, opening_read=said)
    values.put("eyes", main_read=main_read, ports_read=ports_read, ports_comma=comma, ports_both=ports)


def dial_reading(values: Values, words: Words) -> None:
    """Marks meant and found, where to set the dial, and whether the optic covers the opening."""
    eye, w = EyeValues(values), words.get
    off = eye.mark_found - eye.mark_meant
    reading = fold_axis(eye.marks_axis - off)
    whole = {
        "dial_shown": fold_axis(circle.whole(reading)),
        "axis_shown": fold_axis(circle.whole(eye.marks_axis)),
    }
    far = np.abs(axis_difference(off, 0)) > CONSTANTS.mark_far_off + SLACK
    far_said = np.where(far, w("word", "mark_far"), "").astype(object)
    dial, axis = (degrees_said(whole[key]) for key in ("dial_shown", "axis_shown"))
    corrected = joined(whole["dial_shown"], w("word", "set_dial"), dial, w("word", "to_land"), axis, far_said)
    unset = joined(whole["axis_shown"], w("word", "marks_untyped"), axis)
    meant, found = degrees_said(eye.mark_meant), degrees_said(eye.mark_found)
    marks = (w("word", "mark_meant_at"), meant, w("word", "mark_found_at"), found, w("word", "mark_laid"), meant)
    inner = eye.segment_inner_diameter
    wide = np.array(["" if np.isnan(size) else half_up(size, 2) for size in inner.flat], dtype=object).reshape(
        inner.shape
    )
    overlap = (eye.optic_diameter - eye.opening_diameter) / 2
    cover = select(
        [
            (~there(overlap), ""),
            (overlap < SLACK, w("word", "overlap_none")),
            (overlap < CONSTANTS.narrow_overlap - SLACK, w("word", "overlap_narrow")),
        ],
        w("word", "overlap_good"),
    )
    typed = [values.get("eyes", f"state_{key}") == w("word", "used") for key in ("opening_diameter", "optic_diameter")]
    sizes = flag(typed[0]) + flag(typed[1])
    shown = select(
        [
            (~there(overlap), ""),
            (sizes == 2, cover),
            (sizes == 1, cover + w("word", "overlap_half")),
        ],
        w("word", "overlap_untyped"),
    )
    _on_the_marker(values, words, off)
    values.put(
        "eyes",
        overlap_typed=sizes,
        overlap_shown=shown,
        marks_off=off,
        dial_reading=reading,
        **whole,
        mark_far_said=far_said,
        dial_set=corrected,
        dial_unset=unset,
        dial_said=np.where(there(whole["dial_shown"]), corrected, unset),
        meant_said=meant,
        marks_said=joined(off, *marks),
        inner_said=joined(inner, w("word", "inner_diameter"), wide, w("word", "mm_end")),
        optic_overlap=overlap,
        overlap_said=cover,
    )
