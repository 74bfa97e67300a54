"""Confirmation by content: the codes of a plan and of its warnings, and the yes of each point that stops a plan.

An echo: sums of products, remainders and comparisons as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.model import Point
from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.book import Book
from builder.planner.reference.plan.cells import Array, EyeValues, Values, flag, select, there

PLACE = 10_000  # the number of warnings leads, four digits say which
FACTORS = ("lens", "constant", "power", "cylinder", "axis", "goal", "incision", "mean", "residual")


def plan_code(values: Values, words: Words) -> None:
    """The code of each eye's plan, and whether the second person checked this one."""
    eye = EyeValues(values)
    opened = np.where(there(eye.incision_meridian), eye.incision_meridian + 1, 0.0)
    terms = [
        np.nan_to_num(eye.lens_place),
        _whole(100 * np.nan_to_num(eye.chosen_a)),
        _whole(100 * np.nan_to_num(eye.lens_power)),
        _whole(100 * np.nan_to_num(eye.lens_cylinder)),
        _whole(np.nan_to_num(eye.marks_axis)) % 180,
        _whole(100 * np.nan_to_num(eye.goal_refraction)),
        _whole(opened),
        _whole(100 * np.nan_to_num(eye.predicted_mean)),
        _whole(100 * np.nan_to_num(eye.predicted_cylinder)),
    ]
    value = np.stack(terms, axis=-1)
    factor = np.broadcast_to([getattr(CONSTANTS, f"code_{key}") for key in FACTORS], value.shape)
    whole = np.sum(value * factor, axis=-1)
    code = np.where(there(eye.lens_power), np.mod(whole, CONSTANTS.code_modulus), np.nan)
    values.put("code_terms", term_value=value, term_factor=factor)
    apart = np.abs(eye.checked_code - code)
    same = select([(~there(apart), ""), (apart < 0.5, words.get("word", "agrees"))], words.get("word", "differs"))
    values.put("eyes", plan_sum=whole, plan_code=code, same_checked_code=same)


def _whole(numbers: Array) -> Array:
    """To whole units, halves away from zero."""
    return np.sign(numbers) * np.floor(np.abs(np.round(numbers, 6)) + 0.5)


def stale_yes(values: Values, words: Words, points: list[Point], live: dict[str, Array]) -> Array:
    """Where a yes stands beside a point that is not in force: 1 or 0 for each eye."""
    alive = np.stack([live[p.key] for p in points if p.level == "confirm"], axis=-1)
    said = values.get("to_confirm", "slip_yes") == words.get("choice", "yes")
    stale = flag(said & (alive == 0))
    values.put("to_confirm", slip_stale=stale)
    return flag(stale.sum(axis=-1) > 0)


def confirmations(book: Book, values: Values) -> None:
    """The code of the warnings in force, whether it was confirmed, and how many points lack their own yes."""
    eye = EyeValues(values)
    order = [p for p in book.points if not p.of_whole]
    live = values.get("points", "point_live")
    code = np.array([float(p.code) for p in order])
    warns = live * flag(code > 0)
    count = warns.sum(axis=-1)
    summed = (live * code).sum(axis=-1)
    sentence = np.where(warns == 1, values.get("points", "point_sentence"), "").astype(object)
    values.put(
        "points",
        warning_flag=warns,
        warning_number=np.where(warns == 1, np.cumsum(warns, axis=-1), 0.0),
        warning_sentence=sentence,
    )
    told = PLACE * count + np.mod(summed + eye.plan_sum, CONSTANTS.code_modulus)
    told = np.where(count > 0, told, np.nan)
    confirmed = there(eye.warnings_confirmed_by) & (np.abs(eye.warnings_confirmed_code - told) < 0.5)
    slips = [n for n, p in enumerate(order) if p.level == "confirm"]
    said = values.get("to_confirm", "slip_yes") == book.words.get("choice", "yes")
    done = np.where(live[..., slips] == 1, flag(said & confirmed[..., None]), np.nan)
    values.put("to_confirm", slip_confirmed=done, slip_sentence=values.get("points", "point_sentence")[..., slips])
    values.put(
        "eyes",
        warnings_sum=summed,
        warnings_live=count,
        warnings_code=told,
        warnings_confirmed=flag(confirmed),
        slips_open=live[..., slips].sum(axis=-1) - np.nansum(done, axis=-1),
    )
