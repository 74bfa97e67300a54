"""What the page for the patient says, in everyday words, from the rows of the eyes."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS, SLACK
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.cells import (
    Array,
    EyeValues,
    Values,
    WordArray,
    diagnosed,
    flag,
    half_up,
    select,
    there,
)


def told(values: Values, words: Words) -> None:
    """The sentences of both pages, (n, 1) each; all empty until the plan of the eye is ready."""
    eye, w = EyeValues(values), partial(words.get, "word")
    ready, toric = eye.status == w("status_ready"), eye.toric_wanted == 1
    supported = eye.toric_verdict == w("verdict_supported")
    mean, cylinder = np.where(ready, eye.predicted_mean, np.nan), np.where(ready, eye.cornea_cylinder, np.nan)
    zero = CONSTANTS.told_zero + SLACK
    values.put(
        "eyes",
        told_ready=flag(ready),
        told_sight_place=np.where(np.isnan(mean), np.nan, 2 - np.sign(mean) * (abs(mean) > zero)),
        told_why_place=np.where(ready, np.where(toric, np.where(supported, 1, 2), np.where(supported, 3, 4)), np.nan),
        sight_size=_each(eye.predicted_mean, lambda d: _tenth(abs(d))),
        sight_reach=_each(eye.predicted_mean, _far_point),
    )
    rows = {
        "told_curves": _each(cylinder, lambda d: f"{w('curves_differ')}{_tenth(d)}{w('curves_end')}"),
        "told_kind": select([(~ready, ""), (toric, w("told_toric"))], w("told_spherical")),
        "told_sight": _each(mean, lambda d: _size(d, w)),
        "told_reach": _each(mean, lambda d: _reach(d, w)),
        "told_glasses": select(
            [(~ready, ""), (diagnosed(eye, words, "regular"), w("glasses_regular"))], w("glasses_rigid")
        ),
        "told_turn": select([(ready & toric, w("told_may_turn"))]),
    }
    for side, name in enumerate(EYES):
        values.put(f"page_{name}", **{key: row[:, side : side + 1] for key, row in rows.items()})


def _each(numbers: Array, text: Callable[[float], str]) -> WordArray:
    """A text of each number; empty where there is none."""
    found = np.full(numbers.shape, "", dtype=object)
    for at in np.argwhere(there(numbers)):
        found[tuple(at)] = text(float(numbers[tuple(at)]))
    return found


def _tenth(number: float) -> str:
    return half_up(round(number, 8), 1)


def _far_point(refraction: float) -> str:
    """Where an eye is in focus without glasses, in whole cm: one over what it has too much, as far as told."""
    return half_up(round(100 / max(abs(refraction), CONSTANTS.told_zero), 8))


def _size(refraction: float, w: partial[str]) -> str:
    """How far-sighted or short-sighted an eye is meant to be."""
    if abs(refraction) <= CONSTANTS.told_zero + SLACK:
        return w("sight_zero")
    kind = "far" if refraction > 0 else "near"
    return f"{w(f'sight_{kind}')}{_tenth(abs(refraction))}{w(f'sight_{kind}_end')}"


def _reach(refraction: float, w: partial[str]) -> str:
    """What that means for sight without glasses."""
    if abs(refraction) <= CONSTANTS.told_zero + SLACK:
        return w("reach_far")
    return w("reach_none") if refraction > 0 else f"{w('reach_near')}{_far_point(refraction)}{w('reach_near_end')}"
