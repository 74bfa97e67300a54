"""Runs the whole calculation in its order and gathers a value for every row.

An echo: the band of the published goal by comparisons as the cells compute it; all else is called from the other
modules.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS, held
from builder.planner.reference.plan import (
    axes,
    backup,
    cornea,
    cylinder,
    fit,
    follow_cause,
    follow_turn,
    follow_up,
    follow_words,
    formulas,
    incisions,
    laser,
    lead,
    length,
    odds,
    outcome,
    pair,
    power,
    proof,
    reach,
    slips,
    surfaces,
    two_steps,
)
from builder.planner.reference.plan import map as corneal
from builder.planner.reference.plan.book import Book
from builder.planner.reference.plan.cells import (
    DECIMAL_SIGN,
    DIAGNOSES,
    EyeValues,
    Values,
    diagnosed,
    flag_where,
    place_of,
    there,
)
from builder.planner.reference.plan.checked import second_check
from builder.planner.reference.plan.confirm import plan_code
from builder.planner.reference.plan.lenses import read_lenses
from builder.planner.reference.plan.readings import Reader, read_keratometry
from builder.planner.reference.plan.reasons import count_typed, put_reasons, refused_places
from builder.planner.reference.plan.second import second_reading, second_sources
from builder.planner.reference.plan.sources import sources

Typed = Mapping[str, NDArray[Any]]


def evaluate(book: Book, typed: Typed) -> Values:
    """The values of all rows for typed cells: plan (n,), eyes (n, 2), own lenses (n, 6), as objects (None: blank)."""
    before = DECIMAL_SIGN.set(book.words.decimal_sign)
    try:
        with held(book.constants), np.errstate(all="ignore"):
            return _evaluate(book, typed)
    finally:
        DECIMAL_SIGN.reset(before)


def _evaluate(book: Book, typed: Typed) -> Values:
    values, words = Values(), book.words
    reader = Reader(book.inputs, words, typed, values)
    lens_labels = [words.label(key) for key in reader.inputs if reader.owner(key) == "own_lenses"]
    read_lenses(reader, book.examples, book.where, lens_labels)
    read_keratometry(reader)
    later = ("peak_k", "lens_choice", "again_lens", "sulcus_lens", "implanted_lens", "visit_to_judge")
    done = {key for _, key in values.rows}
    reader.read_all([key for key in reader.inputs if key not in done and key not in later])
    names = values.get("lenses", "lens_name")
    for key in ("lens_choice", "again_lens"):
        reader.read(key, names=lambda patient: list(names[patient]))
    backup.read_sulcus_lens(reader, words)
    follow_up.read_inputs(reader)
    surfaces.convert_readings(values, words)
    surfaces.back_surface(values)
    candidates = cornea.candidates(values, words, corneal.read_map(values, words))
    laser.after_laser_powers(values, words, candidates)
    laser.range_of_k(values, words)
    cornea.choose_power(values, words, candidates)
    cornea.probable_error(values, words)
    eye = EyeValues(values)

    def peak_below(accepted: NDArray[Any]) -> NDArray[Any]:
        peak = surfaces.power_of_reading(values, words, accepted)
        return flag_where(peak < eye.mean_k - CONSTANTS.rounding_slack, peak, eye.mean_k)

    used_peak = surfaces.power_of_reading(values, words, reader.read("peak_k", peak_below))
    values.put("eyes", peak_power=used_peak, peak_over_mean=used_peak - eye.mean_k)
    length.length_rule(values, words)
    formulas.position_power(values, words)
    formulas.chosen_lens(values)
    formulas.side_by_side(values, words, formulas.positions(values))
    lead.lead(values, words)
    length.lead_lengths(values, words)
    power.step(values, words)
    length.as_measured(values, words)
    lead.at_ends(values, words)
    reach.another_lens(values)
    power.around(values, words)
    power.other_powers(values)
    sources(values, words)
    cylinder.options(values, words)
    corneal.visits(values)
    axes.axes(values, words)
    second_reading(values, words)
    second_sources(values, words)
    plan_code(values, words)
    _published_goal(values, words)
    odds.what_if(values, words)
    odds.lessons(values)
    odds.safe_sides(values)
    pair.both_eyes(values, words)
    incisions.clearances(values, words)
    incisions.dial_reading(values, words)
    backup.backup(values, words)
    proof.examples(values, words, book.proofs, eye.mean_k.shape[0])
    proof.checks(values, words, book.checks)
    slips.figures(values, words)
    refused_places(values, book.where)
    count_typed(book, values)
    fit.verdict(values, words, book.fit_items)
    put_reasons(book, values)
    second_check(book, values)
    follow_up.implanted(values, words)
    follow_up.visits(values, words)
    follow_cause.judged(values)
    follow_turn.turning(values, words)
    follow_turn.exchange(values)
    two_steps.two_steps(values, words)
    follow_words.answers(values, words)
    outcome.outcome(values)
    return values


def _published_goal(values: Values, words: Words) -> None:
    """The goal published for keratoconus, in a cornea that is planned like one; else that it does not apply."""
    eye, slack = EyeValues(values), CONSTANTS.rounding_slack
    low, middle = eye.mean_k < CONSTANTS.goal_band_low - slack, eye.mean_k <= CONSTANTS.goal_band_high + slack
    cone = diagnosed(eye, words, "keratoconus", "ectasia_after_laser", "pellucid")
    band = np.where(~cone, 4.0, np.where(low, 1.0, np.where(middle, 2.0, 3.0)))
    known = there(eye.mean_k) & there(eye.corneal_diagnosis)
    order = [words.get("choice", key) for key in DIAGNOSES]
    values.put(
        "eyes",
        diagnosis_place=place_of(eye.corneal_diagnosis, order),
        goal_place=np.where(known, band, np.nan),
        goal_published=np.where(cone, lead.published_goal(eye.mean_k), np.nan),
    )
