"""Two eyes of a patient are no two patients: what so many eyes are worth, by the variance between patients.

The sandwich estimator with working independence (liangzeger1986, from memory), times G/(G - 1) for G patients.

Another method: design by sums over each patient's residuals, where the cells multiply the two eyes of each pair;
counted counts patients, where they take half the paired eyes away.
An echo: the look-up of the other eye as the cells make it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.register.rows import Array, Rows, objects


def first_places(keys: Sequence[str]) -> dict[str, int]:
    """The first line, counted from 1, of each key."""
    return {key.casefold(): place for place, key in reversed([*enumerate(keys, start=1)])}


def fellows(rows: Rows, keys: Sequence[str], counts: NDArray[np.bool_], stroke: str) -> None:
    """The line of the other eye of the same file number, 0 where none counts; `keys`: number and eye of each line."""
    places, eyes = first_places(keys), rows.number("line_eye")
    wanted = [f"{k.rpartition(stroke)[0]}{stroke}{3 - eyes[n]:.0f}" if counts[n] else "" for n, k in enumerate(keys)]
    at = np.where(counts, [float(places.get(key.casefold(), 0)) for key in wanted], np.nan)
    there = np.where(counts, at > 0, np.nan)
    line = np.where(there == 1, at * counts[np.nan_to_num(at).astype(int) - 1], there)
    rows.put("lines", fellow_key=objects(wanted), fellow_at=at, fellow_there=there, fellow_line=line)


def of_fellow(rows: Rows, row: Array) -> Array:
    """A row of the lines as the other eye has it; NaN without one that counts."""
    line = rows.line("fellow_line")
    there = line > 0
    return np.where(there, row[np.where(there, line, 1).astype(int) - 1], np.nan)


def patients(rows: Rows) -> NDArray[Any]:
    """Which lines are of one patient: the number of the first of them."""
    own = np.arange(1.0, len(rows.line("fellow_line")) + 1)
    fellow = rows.line("fellow_line")
    return np.where(fellow > 0, np.minimum(own, fellow), own)


def design(residual: Array, patient: Array) -> dict[str, float]:
    """Design effect of a mean from its residuals (NaN left out), never below 1, with its steps.

    Without residuals nothing is known but how many patients there are: so many independent eyes.
    """
    there = ~np.isnan(residual)
    some, who = residual[there], np.unique(patient[there], return_inverse=True)[1]
    eyes, people = float(some.size), float(who.max() + 1 if some.size else 0)
    if not people:
        return dict.fromkeys(("squares", "twice", "design"), np.nan)
    sums = np.bincount(who, some)
    squares, within = float(sums @ sums), float(some @ some)
    least = 1.0 if people > 1 else eyes / people
    found = eyes / people
    if within > CONSTANTS.rounding_slack:
        robust = people / (people - 1) * squares / eyes**2 if people > 1 else 0.0
        naive = within / (eyes - 1) / eyes if eyes > 1 else np.inf
        found = max(least, robust / naive)
    return {"squares": within, "twice": squares - within, "design": found}


def of_mean(values: Array, patient: Array, least: int = 2) -> dict[str, float]:
    """What the mean of `values` (NaN left out) is judged by; squares and design effect from `least` eyes on."""
    there = ~np.isnan(values)
    some = values[there]
    steps = design(values - (some.mean() if some.size else np.nan), patient)
    if some.size < least:
        steps |= {"squares": np.nan, "design": np.nan}
    found = counted(patient, there)
    return {
        "paired": found["paired_eyes"],
        "patients": found["patients_counted"],
        "least": found["least_design"],
        "factor": np.nan_to_num(found["patients_factor"]),
        **steps,
    }


def counted(patient: Array, there: NDArray[np.bool_]) -> dict[str, float]:
    """How many patients, how many eyes whose other eye counts, and what follows from these numbers alone."""
    eyes = float(there.sum())
    people = float(np.unique(patient[there]).size)
    return {
        "paired_eyes": 2 * (eyes - people),
        "patients_counted": people,
        "eyes_a_patient": eyes / people if people else np.nan,
        "least_design": np.nan if not people else 1.0 if people > 1 else eyes / people,
        "patients_factor": np.nan if not people else people * (eyes - 1) / ((people - 1) * eyes) if people > 1 else 0.0,
    }
