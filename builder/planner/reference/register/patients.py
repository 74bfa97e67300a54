"""Two eyes of a patient are no two patients: what so many eyes are worth, by the variance between patients.

The sandwich estimator with working independence (liangzeger1986, from memory), times G/(G - 1) for G patients.

Another method: sandwich by the matrices of the estimator over patients, where the cells look up the other eye of each
line and multiply both.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.register.rows import Array, there


def sandwich(residual: Array, patient: Array) -> float:
    """Variance of a constant fitted to nothing else: bread, meat and bread again, summed over patients."""
    of_patient = (np.unique(patient)[:, None] == patient).astype(float)
    people, ones = len(of_patient), np.ones((residual.size, 1))
    bread = np.linalg.inv(ones.T @ ones)
    scores = of_patient @ (ones * residual[:, None])
    return float((bread @ scores.T @ scores @ bread)[0, 0]) * people / (people - 1)


def design(residual: Array, patient: Array) -> float:
    """Design effect of a mean from its residuals (NaN left out): never below 1, NaN without eyes.

    Without residuals, and of one patient, nothing is known but how many patients there are: so many independent eyes.
    """
    some, whose = there(residual), patient[~np.isnan(residual)]
    people = np.unique(whose).size
    if not people:
        return np.nan
    within = float(some @ some)
    if people == 1 or within < CONSTANTS.rounding_slack:
        return some.size / people
    return max(1.0, sandwich(some, whose) / (within / (some.size - 1) / some.size))


def standard_error(values: Array, patient: Array) -> float:
    """Of the mean of what is there, by patients; NaN below two."""
    some = there(values)
    if some.size < 2:
        return np.nan
    return float(np.sqrt(some.var(ddof=1) / some.size * design(values - some.mean(), patient)))


def counted(values: Array, patient: Array) -> float:
    """Of how many patients something is there."""
    return float(np.unique(patient[~np.isnan(values)]).size)


def numbered(names: list[str], left_out: NDArray[np.bool_]) -> Array:
    """A number for each name, the same for the same name in any writing; one of its own for each line left out."""
    keys = [
        f" {place}" if out else name.casefold() for place, (name, out) in enumerate(zip(names, left_out, strict=True))
    ]
    return np.unique(np.array(keys), return_inverse=True)[1].astype(float)
