"""Readings beyond the needed ones that can change the plan: which are still empty, before the second person types."""

from __future__ import annotations

import numpy as np

from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.book import Book
from builder.planner.reference.plan.cells import EyeValues, Values, WordArray, diagnosed, flag, there

NAMED = 3  # readings that fit in the line at the top of each sheet
READINGS = {  # in the order of what they change, by the value that is there once it is typed
    "u_acd": "chamber_depth",
    "u_zone3": "zone3_steep",
    "u_back": "back_steep_radius",
    "u_total": "total3_steep",
    "u_stable": "months_stable",
    "u_lens_worn": "contact_lens",
    "u_acuity": "spectacle_acuity_before",
    "u_scar": "central_scar",
    "u_tear": "tear_film_treated",
    "u_more": "more_surgery_expected",
    "u_segments": "ring_segments",
    "u_crosslinked": "crosslinked",
    "u_zone4": "zone4_steep",
    "u_second": "second_steep",
    "u_refraction": "refraction_sphere",
    "u_peak": "peak_k",
    "u_thinnest": "thickness_thinnest",
    "u_age": "biometry_age_months",
}
OF_WARPED = {
    "u_stable",
    "u_acuity",
    "u_segments",
    "u_crosslinked",
    "u_peak",
    "u_thinnest",
}  # a regular cornea does without


def useful(book: Book, values: Values) -> None:
    """The table of these readings, (n, 2, readings), and what of it Start counts."""
    eye, w = EyeValues(values), book.words.get
    warped = ~diagnosed(eye, book.words, "regular")
    wanted = np.stack([flag(warped | (key not in OF_WARPED)) for key in READINGS], axis=-1)
    typed = np.stack([flag(there(values.get("eyes", value))) for value in READINGS.values()], axis=-1)
    lacks = np.where(typed == 1, 0.0, wanted)
    named = np.full(lacks.shape, "", dtype=object)
    for at in np.ndindex(lacks.shape):
        empty = [key for key, lacking in zip(READINGS, lacks[at[:2]][: at[2] + 1], strict=False) if lacking]
        named[at] = w("word", "comma").join(w("word", key) for key in empty[:NAMED])
    values.put(
        "usefuls",
        useful_wanted=wanted,
        useful_there=typed,
        useful_lacks=lacks,
        useful_number=np.cumsum(lacks, axis=-1),
        useful_so_far=named,
    )
    again = (eye.again_axial_length, eye.again_acd, eye.again_flat, eye.again_steep, eye.again_goal, eye.again_lens)
    untouched = ~np.any([there(row) for row in again], axis=0)
    asked, count = wanted.sum(axis=-1), lacks.sum(axis=-1)
    said = np.full(asked.shape, "", dtype=object)
    for at in np.ndindex(said.shape):
        said[at] = f"{asked[at] - count[at]:.0f}{w('word', 'of_needed')}{asked[at]:.0f}{w('word', 'typed_needed')}"
    values.put(
        "eyes",
        reshaped_or_warped=flag(warped),
        second_untouched=flag(untouched),
        empty_asked=flag(untouched & (count > 0)),
        step_useful=said,
    )


def open_said(book: Book, values: Values, point_open: WordArray) -> WordArray:
    """What is open in each eye: first what is still empty, then the first open point."""
    eye, w = EyeValues(values), book.words.get
    last = values.get("usefuls", "useful_so_far")[..., -1]
    said = np.array(point_open, dtype=object)
    for at in np.argwhere(eye.empty_asked == 1):
        here, side = tuple(at), EYES[at[1]]
        opening = w("word", f"{side}_opening") + w("word", "still_empty")
        said[here] = opening + last[here] + w("word", "or_go_on") + book.where["again_axial_length", side]
    return said
