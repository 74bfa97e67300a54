"""How far the refraction came out from its prediction: errors, their statistics, shares with limits, groups.

Another method: wilson solves a quadratic equation, where the cells have its closed form; group medians sort each group,
where the cells ask SMALL of all lines; spreads by deviations, where they subtract squares of the mean.
An echo: errors and counts as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.register import patients
from builder.planner.reference.register.rows import SERIES, Array, Rows, beside, by_key, mean, median, sd, there

LIMITS = ("quarter", "half", "three_quarters", "one")
GROUPS = {"diagnoses": 9, "bands": 3, "periods": 5}


def limit(key: str) -> float:
    """A limit (D) of what counts as within a quarter, a half ... of a dioptre; one of LIMITS."""
    return float(getattr(CONSTANTS, f"within_{key}"))


def wilson(inside: float, eyes: float) -> tuple[float, float]:
    """Both limits of a proportion: the roots in p of (k/n - p)^2 = z^2 p (1 - p)/n (wilson1927). NaN without eyes."""
    if not eyes > 0:
        return np.nan, np.nan
    share, spread = inside / eyes, CONSTANTS.normal_95**2 / eyes
    middle, product = (2 * share + spread) / (2 * (1 + spread)), share**2 / (1 + spread)
    reach = np.sqrt(max(0.0, middle**2 - product))
    return middle - reach, middle + reach


def proportion(inside: float, eyes: float, design: float = 1.0) -> tuple[float, float, float]:
    """A share and its limits in percent: those of the eyes over their design effect (korn1998)."""
    low, high = wilson(inside / design, eyes / design)
    return 100 * inside / eyes if eyes > 0 else np.nan, 100 * np.maximum(low, 0), 100 * np.minimum(high, 1)


def line_errors(rows: Rows) -> None:
    """The errors of each line and their statistics by series."""
    achieved = rows.counted("sphere_outcome") + rows.counted("cylinder_outcome") / 2
    planned = rows.number("sphere_planned") + rows.number("cylinder_planned") / 2
    errors = {"lead": achieved - planned} | {key: achieved - rows.number(f"predicted_{key}") for key in SERIES[1:]}
    date = rows.counted("line_date")
    last = np.nanmax(date) if np.any(~np.isnan(date)) else np.nan
    rows.put("lines", achieved_mean=achieved, line_years=(last - date) / CONSTANTS.days_a_year)
    rows.put("lines", **{f"error_{key}": error for key, error in errors.items()})
    rows.put("series", **by_key([_of_series(error, rows.patient) for error in errors.values()]))


def _shares(size: Array, patient: Array, prefix: str = "") -> dict[str, float]:
    """The share within each limit, with its own limits by patients."""
    found: dict[str, float] = {}
    for name in LIMITS:
        inside = beside(size, size <= limit(name) + CONSTANTS.rounding_slack)
        effect = patients.design(inside - mean(inside), patient)
        share = proportion(float(np.nansum(inside)), float(there(size).size), effect)
        found |= dict(
            zip((f"{row}_{prefix}{name}" for row in ("share", "wilson_low", "wilson_high")), share, strict=True)
        )
    return found


def _sizes(error: Array, prefix: str = "") -> dict[str, float]:
    """Mean, median and root mean square of the sizes of errors."""
    some, sizes = there(error), np.abs(error)
    square = float(np.linalg.norm(some) / np.sqrt(some.size)) if some.size else np.nan
    found = {"mean_absolute": mean(sizes), "median_absolute": median(sizes), "root_mean_square": square}
    return {f"{prefix}{key}": value for key, value in found.items()}


def _of_series(error: Array, patient: Array) -> dict[str, float]:
    centred, eyes = error - mean(error), float(there(error).size)
    margin = CONSTANTS.normal_95 * patients.standard_error(error, patient)
    beyond = {f"mean_{side}": sign * mean(error) - margin for side, sign in (("above", 1), ("below", -1))}
    return {
        "eyes_counted": eyes,
        "patients_counted": patients.counted(error, patient),
        "mean_error": mean(error),
        "mean_known": float(eyes > 1),
        "mean_margin": margin,
        "sd_error": sd(error),
        **{key: float(beside(gap, gap > CONSTANTS.rounding_slack)) for key, gap in beyond.items()},
        **_sizes(error),
        **_sizes(centred, "centred_"),
        **_shares(np.abs(error), patient),
        **_shares(np.abs(centred), patient, "centred_"),
    }


def groups(rows: Rows) -> None:
    """The plan's own prediction by diagnosis, band of the mean K and year; keratoconus by band."""
    error = rows.line("error_lead")
    k, years = rows.number("mean_k"), rows.line("line_years")
    ends = [CONSTANTS.goal_band_low - CONSTANTS.rounding_slack, CONSTANTS.goal_band_high + CONSTANTS.rounding_slack]
    band = np.select([k < ends[0], k <= ends[1]], [1.0, 2.0], 3.0)
    period = np.clip(np.ceil(years - CONSTANTS.rounding_slack), 1, GROUPS["periods"])
    diagnosis = rows.number("corneal_diagnosis")
    members = {"diagnoses": diagnosis, "bands": beside(k, band), "periods": beside(years, period)}
    for name, count in GROUPS.items():
        wholes = [np.where(members[name] == n, error, np.nan) for n in range(1, count + 1)]
        rows.put(name, **by_key([_of_group(whole, rows.patient) for whole in wholes]))
    cones = [np.abs(there(error[(diagnosis == 2) & (members["bands"] == n)])) for n in range(1, GROUPS["bands"] + 1)]
    within = {key: limit(key) + CONSTANTS.rounding_slack for key in ("half", "one")}
    shares = [{f"cone_{key}": 100 * mean((sizes <= most) * 1.0) for key, most in within.items()} for sizes in cones]
    rows.put(
        "bands",
        **by_key([{"cone_eyes": float(sizes.size), **share} for sizes, share in zip(cones, shares, strict=True)]),
    )


def _of_group(whole: Array, patient: Array) -> dict[str, float]:
    return {
        "eyes_counted": float(there(whole).size),
        "group_mean": mean(whole),
        "group_sd": sd(whole),
        **_sizes(whole, "group_"),
        **_shares(np.abs(whole), patient),
    }
