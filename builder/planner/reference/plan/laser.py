"""Sheet of the cornea, third part: corneal power after laser surgery, and the range of K that is in doubt.

Another method: after_laser_powers takes the middle of sorted methods, where the cells ask MEDIAN, and refractions to
the cornea by vergence matrices, where they divide.
An echo: which methods count, the measured cornea and the range, by comparisons as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import after_laser, keratometry
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import (
    Array,
    EyeValues,
    Values,
    by_rule,
    diagnosed,
    flag,
    highest,
    lowest,
    select,
    there,
)
from builder.planner.reference.plan.cornea import CANDIDATES, TOTALS
from builder.planner.reference.vectors import spectacle_to_cornea


def after_laser_powers(values: Values, words: Words, powers: dict[str, Array]) -> None:
    """The methods for a regular cornea after laser surgery, and the rule built on them."""
    eye = EyeValues(values)
    w = words.get
    k = np.where(there(powers["zone3"]), powers["zone3"], powers["ring"])
    myopic = eye.corneal_diagnosis == w("choice", "after_myopic_laser")
    hyperopic = eye.corneal_diagnosis == w("choice", "after_hyperopic_laser")
    refractions = eye.refraction_before_laser, eye.refraction_after_laser
    before, after = (spectacle_to_cornea(worn, 0.0, 0.0, CONSTANTS.default_vertex).sphere for worn in refractions)
    methods = {
        "shammas_myopic": (myopic, after_laser.k_shammas2003(k)),
        "wang": (myopic, after_laser.k_wang2004(k)),
        "haigis_myopic": (myopic, after_laser.k_haigis2008(k)),
        "shammas_hyperopic": (hyperopic, after_laser.k_shammas2013(k)),
        "history": (myopic | hyperopic, after_laser.k_history(eye.before_laser_k, *refractions)),
    }
    by_history = np.array(list(methods)) == "history"
    made_for, powers_of = (np.stack(part, axis=-1) for part in zip(*methods.values(), strict=True))
    table = np.where(made_for, powers_of, np.nan)
    applies = made_for & (there(powers_of) | by_history)
    known = there(eye.corneal_diagnosis)[..., None] & (there(k)[..., None] | by_history)
    no_history = np.where(by_history, np.nan, table)
    valid = np.sort(no_history, axis=-1)  # NaN go last
    number = there(no_history).sum(axis=-1)
    middle = [np.take_along_axis(valid, half[..., None], axis=-1)[..., 0] for half in ((number - 1) // 2, number // 2)]
    median = np.where(number > 0, (middle[0] + middle[1]) / 2, np.nan)
    low, high = np.fmin.reduce(no_history, axis=-1), np.fmax.reduce(no_history, axis=-1)
    measured_source = select([(there(powers[key]), w("choice", key)) for key in ("back", *TOTALS)])
    measured = by_rule(measured_source, {w("choice", key): powers[key] for key in ("back", *TOTALS)})
    chosen = np.where(there(measured), measured, median)
    values.put(
        "methods",
        method_applies=np.where(known, flag(applies), np.nan),
        method_power=table,
        no_history_power=no_history,
    )
    term = CONSTANTS.haigis_index_numerator / after_laser.radius_haigis2008(keratometry.radius_of_k(k))
    values.put(
        "eyes",
        plain_k=k,
        haigis_radius_term=term,
        laser_effect=after - before,
        no_history_count=number.astype(float),
        no_history_middle=median,
        no_history_lowest=low,
        no_history_highest=high,
        measured_whole_source=measured_source,
        measured_whole_k=measured,
        after_laser_k=chosen,
        after_laser_source=select(
            [(there(measured), measured_source), (there(chosen), w("word", "no_history_middle"))]
        ),
    )


def range_of_k(values: Values, words: Words) -> None:
    """Lowest and highest K in doubt: of the candidates; after laser of the methods, the back and the total."""
    eye = EyeValues(values)
    joined = values.get("candidates", "candidate_joined")[..., CANDIDATES.index("back") :]
    within = [eye.after_laser_k, eye.no_history_lowest, eye.no_history_highest, *np.moveaxis(joined, -1, 0)]
    laser = diagnosed(eye, words, "after_myopic_laser", "after_hyperopic_laser")
    ends = {
        "lowest": np.where(there(eye.after_laser_k), lowest(*within), np.nan),
        "highest": np.where(there(eye.after_laser_k), highest(*within), np.nan),
    }
    spread = {end: np.where(laser, found, values.get("eyes", f"{end}_candidate")) for end, found in ends.items()}
    values.put(
        "eyes",
        laser_cornea=flag(laser),
        laser_lowest=ends["lowest"],
        laser_highest=ends["highest"],
        range_lowest=spread["lowest"],
        range_highest=spread["highest"],
        range_spread=spread["highest"] - spread["lowest"],
    )
