"""Sheet of the follow-up: what its answers turn on. The sentences themselves follow from these flags.

An echo: comparisons of each row as the cells have them, and the two sentences in which numbers stand.
"""

from __future__ import annotations

from functools import partial

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, WordArray, flag, there


def answers(values: Values, words: Words) -> None:
    """What the sentences turn on, each as 1 or 0; empty where what it asks of is."""
    eye, slack = EyeValues(values), CONSTANTS.rounding_slack
    error, turned = eye.error_mean, np.abs(eye.rotation_from_plan)
    half = eye.left_size / 2 - slack
    unheld = (eye.fitted_seat == words.get("choice", "in_the_sulcus")) & (eye.fitted_cylinder > slack)
    lens = there(eye.fitted_seat) & there(eye.fitted_cylinder)
    worth = eye.turn_gain >= CONSTANTS.turn_worth - slack
    short = np.abs(eye.cylinder_after_turn) > CONSTANTS.turn_cures_to + slack
    placed = there(eye.turn_whole) & lens
    asked = {
        "toric_in_sulcus": (lens, unheld),
        "turn_worthwhile": (there(eye.turn_gain), worth),
        "turn_cures_not": (there(eye.cylinder_after_turn), short),
        "turn_helps": (there(eye.turn_gain) & there(eye.cylinder_after_turn), worth & short),
        "turn_counter": (there(eye.turn_by), eye.turn_by > 0),
        "way_shown": (placed, ~unheld & (eye.turn_whole > 0)),
        "way_none": (placed, ~unheld & (eye.turn_whole == 0)),
        "mean_as_expected": (there(error), np.abs(error) <= CONSTANTS.within_half + slack),
        "mean_beyond": (there(error), error > slack),
        "nothing_to_turn": (there(eye.fitted_cylinder), eye.fitted_cylinder == 0),
        "lies_as_put": (there(turned), turned <= CONSTANTS.lies_in_place + slack),
        "lies_little_off": (there(turned), turned <= CONSTANTS.lies_turned + slack),
        "little_remains": (there(eye.left_size), eye.left_size <= CONSTANTS.little_left + slack),
        "turned_most": (there(eye.cause_cornea), eye.cause_rotation >= np.maximum(half, eye.cause_cornea - slack)),
        "cornea_most": (there(eye.cause_cornea), eye.cause_cornea >= half),
        "planned_most": (there(eye.cause_planned), eye.cause_planned >= half),
        "exchange_waits": (there(eye.settled), eye.settled == 0),
        "steep_for_rule": (there(eye.mean_k), eye.mean_k > CONSTANTS.goal_band_low + slack),
    }
    absent = {"visit": eye.judge_visit, "prediction": error, "exchange": eye.exchange_power}
    absent |= {"diagnosis": eye.diagnosis_place, "day": eye.judged_day}
    values.put(
        "eyes",
        rotation_unseen=flag(~there(turned)),
        half_counts=flag(there(eye.half_power)),
        fellow_early=flag(eye.settled[:, ::-1] != 1),
        diagnoses_differ=flag(eye.corneal_diagnosis != eye.corneal_diagnosis[:, ::-1]),
        fellow_unlike=flag(eye.half_alike != 1),
        **{f"{key}_lacks": flag(~there(row)) for key, row in absent.items()},
        **{key: np.where(known, flag(holds), np.nan) for key, (known, holds) in asked.items()},
    )
    _with_numbers(values, words)


def _with_numbers(values: Values, words: Words) -> None:
    """The order to turn the lens, and until when an exchange waits."""
    eye, say = EyeValues(values), partial(words.get, "word")
    seen, best, degrees = (_whole(row) for row in (eye.seen_axis_whole, eye.best_axis_whole, eye.turn_whole))
    order = np.where(eye.turn_worthwhile == 1, say("turn_it"), say("turn_all_the_same"))
    sense = np.where(eye.turn_counter == 1, say("turn_counter"), say("turn_clockwise"))
    told = order + degrees + sense + seen + say("turn_to") + best + say("turn_seat")
    known = there(eye.turn_gain) & (eye.way_shown == 1)
    waits = say("exchange_waits") + _whole(eye.settled_after) + say("exchange_waits_end")
    values.put(
        "eyes",
        turn_told=np.where(known, told, ""),
        waits_said=np.where(eye.settled == 0, waits, ""),
    )


def _whole(row: Array) -> WordArray:
    """Numbers as texts without decimals; what is not there as an empty text."""
    return np.array([["" if np.isnan(one) else f"{one:.0f}" for one in line] for line in row], dtype=object)
