"""What the page for the patient says, in everyday words, from the rows of the eyes."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from builder.reference.constants import CONSTANTS, SLACK
from builder.reference.plan.cells import Array, EyeValues, Values, WordArray, diagnosed, flag, half_up, select, there
from builder.spec.words import Words


def told(values: Values, words: Words) -> None:
    """The sentences, (n, 2) each; empty where what they tell of is not known."""
    eye, w = EyeValues(values), partial(words.get, "word")
    toric, supported = eye.toric_wanted == 1, eye.toric_verdict == w("verdict_supported")
    rows = {
        "told_ready": flag(eye.status == w("status_ready")),
        "curves_told": _each(eye.cornea_cylinder, lambda d: f"{w('curves_differ')}{_tenth(d)}{w('curves_end')}"),
        "kind_told": select([(toric, w("told_toric"))], w("told_spherical")),
        "why_told": select(
            [(toric & supported, w("why_agrees")), (toric, w("why_judged")), (supported, w("why_glasses"))],
            w("why_not_agreed"),
        ),
        "sight_size": _each(eye.predicted_mean, lambda d: _tenth(abs(d))),
        "sight_reach": _each(eye.predicted_mean, _far_point),
        "sight_told": _each(eye.predicted_mean, lambda d: _sight(d, w)),
        "glasses_told": select([(diagnosed(eye, words, "regular"), w("glasses_regular"))], w("glasses_rigid")),
    }
    values.put("eyes", **rows)


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


def _sight(refraction: float, w: partial[str]) -> str:
    """What a refraction means for sight without glasses."""
    zero = CONSTANTS.told_zero + SLACK
    if abs(refraction) <= zero:
        return w("sight_zero")
    if refraction > 0:
        return f"{w('sight_far')}{_tenth(refraction)}{w('sight_far_end')}"
    return f"{w('sight_near')}{_tenth(-refraction)}{w('sight_near_at')}{_far_point(refraction)}{w('sight_near_end')}"
