"""How far the refraction came out from its prediction: errors, their statistics, shares with limits, groups.

Another method: wilson solves a quadratic equation, where the cells have its closed form; group medians sort each group,
where the cells ask SMALL of all lines; spreads by deviations, where they subtract squares of the mean.
An echo: errors, counts and shares as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.register import patients
from builder.planner.reference.register.rows import SERIES, Array, Rows, beside, mean, median, sd

LIMITS = ("quarter", "half", "three_quarters", "one")
CENTRED = tuple(f"centred_{key}" for key in LIMITS)
GROUPS = {"diagnosis": ("diagnoses", 9), "band": ("bands", 3), "period": ("periods", 5)}


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


def proportions(key: str, inside: Array, eyes: Array, design: Array | float = 1.0) -> dict[str, Array]:
    """The rows of a share in percent, its limits and their steps: of the eyes over their design effect (korn1998)."""
    with np.errstate(all="ignore"):
        share = np.where(eyes > 0, 100 * inside / np.where(eyes > 0, eyes, 1), np.nan)
    low, high = (100 * np.array(ends) for ends in zip(*map(wilson, inside / design, eyes / design), strict=True))
    return {
        f"share_{key}": share,
        f"worth_{key}": eyes / design,
        f"wilson_low_{key}": np.clip(low, 0, None),
        f"wilson_high_{key}": np.clip(high, None, 100),
        f"wilson_middle_{key}": (low + high) / 2,
        f"wilson_reach_{key}": (high - low) / 2,
    }


def _class(size: Array) -> Array:
    """1 to 4 by the limits, 5 beyond; NaN where nothing is."""
    ends = np.array([limit(key) for key in LIMITS]) + CONSTANTS.rounding_slack
    return beside(size, np.searchsorted(ends, size) + 1.0)


def line_errors(rows: Rows) -> None:
    """The errors of each line and their statistics by series."""
    achieved = rows.counted("sphere_outcome") + rows.counted("cylinder_outcome") / 2
    planned = rows.number("sphere_planned") + rows.number("cylinder_planned") / 2
    errors = {"lead": achieved - planned} | {key: achieved - rows.number(f"predicted_{key}") for key in SERIES[1:]}
    date = rows.counted("line_date")
    last = np.nanmax(date) if np.any(~np.isnan(date)) else np.nan
    rows.put(
        "lines",
        achieved_mean=achieved,
        counted_date=date,
        line_years=(last - date) / CONSTANTS.days_a_year,
        square_lead=errors["lead"] ** 2,
    )
    patient = patients.patients(rows)
    for key, error in errors.items():
        size, centred = np.abs(error), np.abs(error - mean(error))
        rows.put("lines", **{f"error_{key}": error, f"absolute_{key}": size, f"centred_{key}": centred})
        rows.put("lines", **{f"class_{key}": _class(size), f"centred_class_{key}": _class(centred)})
        _pairs(rows, key)
    _put(rows, "series", [_of_series(error, patient) for error in errors.values()], (*LIMITS, *CENTRED))


def _put(rows: Rows, name: str, columns: list[dict[str, float]], keys: Sequence[str]) -> None:
    """The rows of a list of series or groups, with the share within each limit."""
    rows.table(name, columns)
    for key in keys:
        inside, eyes, design = (rows.values[name, row] for row in (f"inside_{key}", "eyes_counted", f"design_{key}"))
        rows.put(name, **proportions(key, inside, eyes, design))


def _pairs(rows: Rows, key: str) -> None:
    """What the other eye of a line has of a series: its error, and the worse and the better class of both."""
    own = rows.line(f"error_{key}")
    error = beside(own, patients.of_fellow(rows, own))
    found = {f"pair_error_{key}": error}
    for prefix in ("", "centred_"):
        own = rows.line(f"{prefix}class_{key}")
        both = np.stack([own, patients.of_fellow(rows, own)])
        both = beside(error, both)
        found |= {f"pair_{prefix}worst_{key}": both.max(axis=0), f"pair_{prefix}best_{key}": both.min(axis=0)}
    rows.put("lines", **found)


def _shares(size: Array, patient: Array, prefix: str = "") -> dict[str, float]:
    """How many errors are within each limit, of how many pairs both or one, and the design effect of each share."""
    there = ~np.isnan(size)
    pairs = [size[there & (patient == one)] for one in np.unique(patient[there])]
    pairs = [pair for pair in pairs if pair.size > 1]
    found: dict[str, float] = {}
    for name in LIMITS:
        key, most = f"{prefix}{name}", limit(name) + CONSTANTS.rounding_slack
        inside = beside(size, size <= most)
        found |= {
            f"inside_{key}": float(np.nansum(inside)),
            f"together_{key}": 2.0 * sum(bool(np.all(pair <= most)) for pair in pairs),
            f"either_{key}": 2.0 * sum(bool(np.any(pair <= most)) for pair in pairs),
        }
        found |= {f"{row}_{key}": value for row, value in patients.design(inside - mean(inside), patient).items()}
    return found


def _sizes(error: Array) -> dict[str, float]:
    """Mean, median and root mean square of the sizes of errors."""
    there = error[~np.isnan(error)]
    square = float(np.linalg.norm(there) / np.sqrt(there.size)) if there.size else np.nan
    sizes = np.abs(error)
    return {"mean_absolute": mean(sizes), "median_absolute": median(sizes), "root_mean_square": square}


def _of_series(error: Array, patient: Array) -> dict[str, float]:
    centred, steps = error - mean(error), patients.of_mean(error, patient)
    eyes = float((~np.isnan(error)).sum())
    margin = CONSTANTS.normal_95 * sd(error) * np.sqrt(steps["design"] / eyes) if eyes else np.nan
    beyond = {f"mean_{side}": sign * mean(error) - margin for side, sign in (("above", 1), ("below", -1))}
    return {
        "eyes_counted": eyes,
        "mean_error": mean(error),
        "mean_known": float(eyes > 1),
        "mean_margin": margin,
        "sd_error": sd(error),
        **{key: float(beside(gap, gap > CONSTANTS.rounding_slack)) for key, gap in beyond.items()},
        **patients.counted(patient, ~np.isnan(error)),
        **{f"mean_{key}": steps[key] for key in ("squares", "twice", "design")},
        **_sizes(error),
        **{f"centred_{key}": value for key, value in _sizes(centred).items()},
        **_shares(np.abs(error), patient),
        **_shares(np.abs(centred), patient, "centred_"),
    }


def groups(rows: Rows) -> None:
    """The plan's own prediction by diagnosis, band of the mean K and year; keratoconus by band."""
    error = rows.line("error_lead")
    k, years = rows.number("mean_k"), rows.line("line_years")
    band = np.select(
        [
            k < CONSTANTS.goal_band_low - CONSTANTS.rounding_slack,
            k <= CONSTANTS.goal_band_high + CONSTANTS.rounding_slack,
        ],
        [1.0, 2.0],
        3.0,
    )
    period = np.clip(np.ceil(years - CONSTANTS.rounding_slack), 1, GROUPS["period"][1])
    members = {"diagnosis": rows.number("corneal_diagnosis"), "band": beside(k, band), "period": beside(years, period)}
    members = {key: beside(error, value) for key, value in members.items()}
    cone = np.where(members["diagnosis"] == 2, members["band"], np.nan)
    size, mark = rows.line("absolute_lead"), rows.line("class_lead")
    rows.put("lines", in_cone=cone, mark_cone=100 * cone + mark)
    for key, member in members.items():
        rows.put(
            "lines", **{f"in_{key}": member, f"order_{key}": 100 * member + size, f"mark_{key}": 100 * member + mark}
        )
        other = patients.of_fellow(rows, member)
        pair = np.where((other == member) & ~np.isnan(rows.line("pair_error_lead")), member, np.nan)
        classes = {f"pair_{end}_in_{key}": 100 * pair + rows.line(f"pair_{end}_lead") for end in ("worst", "best")}
        rows.put("lines", **{f"pair_in_{key}": pair}, **classes)
        name, count = GROUPS[key]
        _group(rows, name, [np.where(member == n, error, np.nan) for n in range(1, count + 1)])
    cones = [np.abs(error[cone == n]) for n in range(1, GROUPS["band"][1] + 1)]
    ends = {key: limit(key) + CONSTANTS.rounding_slack for key in ("half", "one")}
    shares = [{f"cone_{key}": 100 * mean((sizes <= most) * 1.0) for key, most in ends.items()} for sizes in cones]
    rows.table("bands", [{"cone_eyes": float(sizes.size), **share} for sizes, share in zip(cones, shares, strict=True)])


def _group(rows: Rows, name: str, wholes: list[Array]) -> None:
    """The rows of a table of groups, from the errors of each group's lines, NaN in the others."""
    patient = patients.patients(rows)
    _put(rows, name, [_of_group(whole, patient) for whole in wholes], LIMITS)
    eyes = rows.values[name, "eyes_counted"]
    last = eyes.cumsum()
    middle = {"lower": last - np.floor(eyes / 2), "upper": last - np.ceil(eyes / 2) + 1}
    rows.put(name, group_before=last - eyes, **{f"group_{key}": place for key, place in middle.items()})


def _of_group(whole: Array, patient: Array) -> dict[str, float]:
    eyes = float((~np.isnan(whole)).sum())
    return {
        "eyes_counted": eyes,
        "group_mean": mean(whole),
        "group_sd": sd(whole),
        "group_squares": float(np.nansum(whole**2)),
        "group_middle": np.ceil(eyes / 2),
        **{f"group_{key}": value for key, value in _sizes(whole).items()},
        **patients.counted(patient, ~np.isnan(whole)),
        **_shares(np.abs(whole), patient),
    }
