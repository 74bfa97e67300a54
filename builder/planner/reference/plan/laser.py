"""Sheet of the cornea, third part: corneal power after laser surgery, and the range of K that is in doubt.

Another method: after_laser_powers takes the middle of sorted methods, where the cells ask MEDIAN, and refractions to
the cornea by vergence matrices, where they divide.
An echo: which methods count, the measured cornea and the range, by comparisons as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import after_laser
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


def after_laser_powers(values: Values, words: Words, powers: dict[str, Array]) -> None:
    """The methods for a regular cornea after laser surgery, and the rule built on them."""
    eye = EyeValues(values)
    w = words.get
    k = np.where(there(powers["zone3"]), powers["zone3"], powers["ring"])
    myopic = eye.corneal_diagnosis == w("choice", "after_myopic_laser")
    hyperopic = eye.corneal_diagnosis == w("choice", "after_hyperopic_laser")
    history = after_laser.k_history(
        eye.before_laser_k, eye.refraction_before_laser, eye.refraction_after_laser, CONSTANTS.default_vertex
    )
    methods = {
        "shammas_myopic": (myopic, after_laser.k_shammas2003(k)),
        "wang": (myopic, after_laser.k_wang2004(k)),
        "haigis_myopic": (myopic, after_laser.k_haigis2008(k)),
        "shammas_hyperopic": (hyperopic, after_laser.k_shammas2013(k)),
        "history": (myopic | hyperopic, history),
    }
    by_history = np.array(list(methods)) == "history"
    made_for, powers_of = (np.stack(part, axis=-1) for part in zip(*methods.values(), strict=True))
    table = np.where(made_for, powers_of, np.nan)
    no_history = np.where(by_history, np.nan, table)
    valid = np.sort(no_history, axis=-1)  # NaN go last
    number = there(no_history).sum(axis=-1)
    middle = [np.take_along_axis(valid, half[..., None], axis=-1)[..., 0] for half in ((number - 1) // 2, number // 2)]
    median = np.where(number > 0, (middle[0] + middle[1]) / 2, np.nan)
    measured_source = select([(there(powers[key]), w("choice", key)) for key in ("back", *TOTALS)])
    measured = by_rule(measured_source, {w("choice", key): powers[key] for key in ("back", *TOTALS)})
    chosen = np.where(there(measured), measured, median)
    values.put("methods", method_power=table)
    values.put(
        "eyes",
        plain_k=k,
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
    no_history = values.get("methods", "method_power")[..., :-1]
    within = [eye.after_laser_k, *np.moveaxis(np.concatenate([joined, no_history], axis=-1), -1, 0)]
    laser = diagnosed(eye, words, "after_myopic_laser", "after_hyperopic_laser")
    ends = {
        "lowest": np.where(there(eye.after_laser_k), lowest(*within), np.nan),
        "highest": np.where(there(eye.after_laser_k), highest(*within), np.nan),
    }
    spread = {end: np.where(laser, found, values.get("eyes", f"{end}_candidate")) for end, found in ends.items()}
    values.put(
        "eyes",
        laser_cornea=flag(laser),
        range_lowest=spread["lowest"],
        range_highest=spread["highest"],
        range_spread=spread["highest"] - spread["lowest"],
    )
