"""Sheet of the odds: what it says in sentences."""

from __future__ import annotations

from functools import partial

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference.constants import SLACK
from builder.planner.reference.plan.cells import EyeValues, Values, diagnosed, half_up, select, there


def spoken(values: Values, words: Words) -> None:
    """Sentences to read aloud."""
    eye = EyeValues(values)
    w = partial(words.get, "word")
    table = np.full((*eye.error_sd.shape, 5), "", dtype=object)
    for place in np.ndindex(eye.error_sd.shape):
        if np.isnan(eye.error_sd[place]) or np.isnan(eye.predicted_mean[place]):
            continue
        chances = (eye.chance_within_050, eye.chance_within_100, eye.chance_hyperopic, eye.chance_myopic)
        half, one, above, below = (_percent(float(row[place])) for row in chances)
        turned = float(eye.turned_by_ten[place])
        told = f"{w('say_turned')}{_tenth(turned)}{w('say_turned_end')}"
        table[place] = [
            f"{w('say_about')}{half}{w('say_within_half')}{one}{w('say_within_one')}",
            w("say_meaning"),
            f"{w('say_about')}{above}{w('say_hyperopic')}",
            f"{w('say_about')}{below}{w('say_myopic')}" if below else "",
            w("say_no_cylinder") if np.isnan(turned) else told,
        ]
    values.put("spoken", spoken_sentence=table)


def safe_side(values: Values, words: Words) -> None:
    """Whether the lens stays on the myopic side in nine of ten eyes, and what front readings alone leave out."""
    eye, w = EyeValues(values), partial(words.get, "word")
    known = there(eye.safe_goal) & there(eye.predicted_mean)
    above = eye.predicted_mean > eye.safe_goal + SLACK
    said = np.where(above, w("above_safe"), w("within_safe")).astype(object)
    said = said + np.where(eye.front_alone == 1, w("safe_front_alone"), "").astype(object)
    values.put("eyes", safe_sentence=np.where(known, said, ""))


def length_lesson(values: Values, words: Words) -> None:
    """What the length rule did, in a sentence."""
    eye, w = EyeValues(values), partial(words.get, "word")
    told = np.full(eye.axial_length.shape, "", dtype=object)
    for at in np.ndindex(told.shape):
        length, used, shift = (float(row[at]) for row in (eye.axial_length, eye.lead_length, eye.length_shift))
        if np.isnan([length, used, shift]).any():
            continue
        if eye.length_rule_used[at] == words.get("choice", "as_measured"):
            told[at] = w("length_measured_only")
        elif length - used <= SLACK:
            told[at] = w("length_no_effect")
        else:
            numbers = (half_up(round(number, 8), 2) for number in (length, used, max(0.0, shift)))
            parts = zip(("length_typed", "length_counted", "length_without"), numbers, strict=True)
            told[at] = "".join(w(key) + number for key, number in parts) + w("length_end")
    values.put("eyes", length_sentence=told)


def cuts_drift(values: Values, words: Words) -> None:
    """What radial cuts do, in a cornea that has them."""
    eye, w = EyeValues(values), partial(words.get, "word")
    known, cuts = there(eye.corneal_diagnosis), diagnosed(eye, words, "radial_cuts")
    values.put(
        "eyes",
        drift_sentence=select([(~known, ""), (cuts, w("cuts_drift"))], w("cuts_none")),
    )


def _percent(chance: float) -> str:
    """Per cent in whole numbers; "" where there is no chance to tell."""
    if np.isnan(chance):
        return ""
    return f"{np.floor(100 * chance + 0.5):.0f}"


def _tenth(value: float) -> str:
    return half_up(round(value, 8), 1)
