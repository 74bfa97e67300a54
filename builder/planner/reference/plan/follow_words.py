"""Sheet of the follow-up: its answers in words, one sentence a question.

An echo: comparisons, and sentences put together, as the cells have them.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, WordArray, diagnosed, place_of, select, there
from builder.planner.reference.plan.follow_plan import NONE, PLAN, PRINTED

Say = Callable[[str], str]
ANSWERS = (
    "judging",
    "lens_used",
    "against",
    "miss",
    "lies",
    "reason",
    "remedy",
    "turning_way",
    "adding",
    "laser",
    "day",
    "fellow_eye",
)
JUDGINGS = tuple(f"judge_{key}" for key in ("refused", "not_complete", "none", "no_plan", "chosen", "steady", "last"))
HALVES = ("half_shown", "half_waits", "half_unlike_cornea", "half_unlike_k")


def answers(values: Values, words: Words) -> None:
    """The follow-up in words, one sentence a question."""
    eye = EyeValues(values)
    say = partial(words.get, "word")
    judged = there(eye.judge_visit)
    found = {
        "judging": _judging(values, say),
        "lens_used": _lens(eye, say),
        "against": _against(values, say),
        **_causes(eye, say),
        **_remedies(values, words),
        "laser": select(
            [
                (~judged, ""),
                (diagnosed(eye, words, "keratoconus", "ectasia_after_laser", "pellucid"), say("laser_never")),
                (diagnosed(eye, words, "regular", "after_myopic_laser", "after_hyperopic_laser"), say("laser_perhaps")),
            ],
            say("laser_unwise"),
        ),
        "day": select(
            [
                (~judged, ""),
                (~there(eye.judged_day), say("day_missing")),
                (eye.settled == 1, say("day_settled")),
                (diagnosed(eye, words, "radial_cuts"), say("day_early_cuts")),
            ],
            say("day_early"),
        ),
        "fellow_eye": _half(values, say),
    }
    values.put("answers", answer_sentence=np.stack([found[key] for key in ANSWERS], axis=-1))


def _judging(values: Values, say: Say) -> WordArray:
    eye = EyeValues(values)
    asked, steady = there(eye.visit_to_judge), values.get("checkups", "steady_at").max(axis=-1) > 0
    said = select(
        [
            (eye.follow_refused > 0, say("judge_refused")),
            (~there(eye.judge_visit) & asked, say("judge_not_complete")),
            (~there(eye.judge_visit), say("judge_none")),
            (~there(eye.error_mean), say("judge_no_plan")),
            (asked, say("judge_chosen")),
            (steady, say("judge_steady")),
        ],
        say("judge_last"),
    )
    _place(values, "judging", said, [say(key) for key in JUDGINGS])
    return said


def _lens(eye: EyeValues, say: Say) -> WordArray:
    return select(
        [
            (~there(eye.fitted_power), ""),
            (there(eye.implanted_lens), say("lens_typed")),
            (eye.released == 0, say("lens_not_released")),
        ],
        say("lens_of_plan"),
    )


def _against(values: Values, say: Say) -> WordArray:
    """Which prediction the errors are counted from; put as a row of the eyes, too."""
    eye = EyeValues(values)
    said = select(
        [
            (~there(eye.judge_visit) | ~there(eye.fitted_power), ""),
            (eye.against_place == PLAN, say("against_plan")),
            (eye.against_place == PRINTED, say("against_printed")),
            (eye.against_place == NONE, say("against_changed")),
        ],
        say("against_unknown"),
    )
    values.put("eyes", against_said=said, against_shown=np.where(there(said), eye.against_place, np.nan))
    return said


def _half(values: Values, say: Say) -> WordArray:
    """Whether half of the other eye's error counts here, or why not."""
    eye = EyeValues(values)
    said = select(
        [
            (~there(eye.fellow_error), ""),
            (there(eye.half_power), say("half_shown")),
            (eye.settled[:, ::-1] == 0, say("half_waits")),
            (eye.corneal_diagnosis != eye.corneal_diagnosis[:, ::-1], say("half_unlike_cornea")),
            (eye.half_alike != 1, say("half_unlike_k")),
        ]
    )
    _place(values, "half", said, [say(key) for key in HALVES])
    return said


def _place(values: Values, key: str, said: WordArray, order: list[str]) -> None:
    """Puts a sentence of each eye, and its place among those that there are."""
    values.put("eyes", **{f"{key}_place": place_of(said, order), f"{key}_said": said})


def _causes(eye: EyeValues, say: Say) -> dict[str, WordArray]:
    known, turned = there(eye.error_mean), np.abs(eye.rotation_from_plan)
    half = eye.left_size / 2
    return {
        "miss": select(
            [
                (~known, ""),
                (np.abs(eye.error_mean) <= CONSTANTS.within_half + CONSTANTS.rounding_slack, say("mean_near")),
                (eye.error_mean > 0, say("mean_far")),
            ],
            say("mean_short"),
        ),
        "lies": select(
            [
                (~known, ""),
                (eye.fitted_cylinder == 0, say("no_cylinder_to_turn")),
                (~there(turned), say("axis_not_seen")),
                (turned <= CONSTANTS.lies_in_place + CONSTANTS.rounding_slack, say("lies_in_place_word")),
                (turned <= CONSTANTS.lies_turned + CONSTANTS.rounding_slack, say("lies_turned_little")),
            ],
            say("lies_turned_word"),
        ),
        "reason": select(
            [
                (~there(eye.cause_cornea), ""),
                (eye.left_size <= CONSTANTS.little_left + CONSTANTS.rounding_slack, say("cause_little")),
                (
                    (eye.cause_rotation >= half - CONSTANTS.rounding_slack)
                    & (eye.cause_rotation >= eye.cause_cornea - CONSTANTS.rounding_slack),
                    say("cause_turned"),
                ),
                (eye.cause_cornea >= half - CONSTANTS.rounding_slack, say("cause_of_cornea")),
                (eye.cause_planned >= half - CONSTANTS.rounding_slack, say("cause_of_plan")),
            ],
            say("cause_mixed"),
        ),
    }


def _turning(values: Values, words: Words) -> tuple[WordArray, WordArray]:
    """What turning does, and the order to turn; both put as rows of the eyes. A toric lens in the sulcus gets none."""
    eye, say = EyeValues(values), partial(words.get, "word")
    worth = eye.turn_gain >= CONSTANTS.turn_worth - CONSTANTS.rounding_slack
    short = np.abs(eye.cylinder_after_turn) > CONSTANTS.turn_cures_to + CONSTANTS.rounding_slack
    unheld = (eye.fitted_seat == words.get("choice", "in_the_sulcus")) & (
        eye.fitted_cylinder > CONSTANTS.rounding_slack
    )
    gain, turn = there(eye.turn_gain), there(eye.turn_by)
    known = there(eye.turn_whole) & there(eye.fitted_seat) & there(eye.fitted_cylinder)
    seen, best, degrees = (_whole(row) for row in (eye.seen_axis_whole, eye.best_axis_whole, eye.turn_whole))
    order = select([(~gain, ""), (worth, say("turn_it"))], say("turn_all_the_same"))
    sense = select([(~turn, ""), (eye.turn_by > 0, say("turn_counter"))], say("turn_clockwise"))
    remedy = select(
        [
            (~gain, ""),
            (unheld, say("turn_in_sulcus")),
            (short & worth, say("turn_helps")),
            (short, say("turn_cannot")),
            (worth, say("turn_cures")),
        ],
        say("turn_not_worth"),
    )
    shown = known & ~unheld & (eye.turn_whole > 0)
    none = select([(known & ~unheld & (eye.turn_whole == 0), say("turn_none"))], "")
    way = np.where(shown, order + degrees + sense + seen + say("turn_to") + best + say("turn_seat"), none)
    values.put(
        "eyes",
        toric_in_sulcus=np.where(there(eye.fitted_seat) & there(eye.fitted_cylinder), unheld, np.nan),
        turn_worthwhile=np.where(gain, worth, np.nan),
        turn_cures_not=np.where(there(eye.cylinder_after_turn), short, np.nan),
        remedy_said=remedy,
        turn_order=order,
        turn_sense=sense,
        way_shown=np.where(known, shown, np.nan),
        way_said=none,
    )
    return remedy, way


def _whole(row: Array) -> WordArray:
    """Numbers as texts without decimals; what is not there as an empty text."""
    return np.array([["" if np.isnan(one) else f"{one:.0f}" for one in line] for line in row], dtype=object)


def _remedies(values: Values, words: Words) -> dict[str, WordArray]:
    eye, say = EyeValues(values), partial(words.get, "word")
    remedy, way = _turning(values, words)
    waits = say("exchange_waits") + _whole(eye.settled_after) + say("exchange_waits_end")
    steep = eye.mean_k > CONSTANTS.goal_band_low + CONSTANTS.rounding_slack
    return {
        "remedy": remedy,
        "turning_way": way,
        "adding": select(
            [
                (~there(eye.judge_visit), ""),
                (eye.settled == 0, waits),
                (~there(eye.exchange_power), ""),
                (steep, say("rule_falls_short")),
            ],
            say("rule_beside"),
        ),
    }
