"""How far the refraction came out from its prediction: errors, their statistics, shares with limits, groups.

Another method: wilson solves a quadratic equation, where the cells have its closed form; group medians sort each group,
where the cells ask SMALL of all lines; spreads by deviations, where they subtract squares of the mean.
An echo: errors, counts and shares as the cells compute them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.register import patients
from builder.planner.reference.register.rows import SERIES, Array, Rows, beside, mean, sd

LIMITS = ("quarter", "half", "three_quarters", "one")
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
    table: dict[str, list[float]] = {}
    patient = patients.patients(rows)
    for key in SERIES:
        error = errors[key]
        centred = np.abs(error - mean(error))
        size = np.abs(error)
        rows.put(
            "lines",
            **{
                f"error_{key}": error,
                f"absolute_{key}": size,
                f"class_{key}": _class(size),
                f"centred_{key}": centred,
                f"centred_class_{key}": _class(centred),
            },
        )
        _pairs(rows, key)
        for name, value in _statistics(error, size, centred, patient).items():
            table.setdefault(name, []).append(value)
    arrays = {name: np.array(values) for name, values in table.items()}
    rows.put("series", **arrays)
    for key in (*LIMITS, *(f"centred_{key}" for key in LIMITS)):
        rows.put("series", **proportions(key, arrays[f"inside_{key}"], arrays["eyes_counted"], arrays[f"design_{key}"]))


def _pairs(rows: Rows, key: str) -> None:
    """What the other eye of a line has of a series: its error, and the worse and the better class of both."""
    error = beside(rows.line(f"error_{key}"), patients.of_fellow(rows, rows.line(f"error_{key}")))
    found = {f"pair_error_{key}": error}
    for prefix in ("", "centred_"):
        own = rows.line(f"{prefix}class_{key}")
        both = np.stack([own, patients.of_fellow(rows, own)])
        both = beside(error, both)
        found |= {f"pair_{prefix}worst_{key}": both.max(axis=0), f"pair_{prefix}best_{key}": both.min(axis=0)}
    rows.put("lines", **found)


def _shares(inside: NDArray[np.bool_], there: NDArray[np.bool_], patient: Array, key: str) -> dict[str, float]:
    """The rows of one share: how many are within, of how many pairs both or one, and the design effect."""
    part, who = inside[there], patient[there]
    pairs = [part[who == one] for one in np.unique(who)]
    pairs = [pair for pair in pairs if len(pair) > 1]
    steps = patients.design(np.where(there, inside - (part.mean() if part.size else 0.0), np.nan), patient)
    return {
        f"inside_{key}": float(part.sum()),
        f"together_{key}": 2.0 * sum(bool(pair.all()) for pair in pairs),
        f"either_{key}": 2.0 * sum(bool(pair.any()) for pair in pairs),
        **{f"{name}_{key}": value for name, value in steps.items()},
    }


def _statistics(error: Array, size: Array, centred: Array, patient: Array) -> dict[str, float]:
    there = ~np.isnan(error)
    eyes = float(there.sum())
    steps = patients.design(error - mean(error), patient)
    found = {
        "eyes_counted": eyes,
        "mean_error": mean(error),
        "mean_known": float(eyes > 1),
        "sd_error": sd(error),
        **patients.counted(patient, there),
        **{f"mean_{name}": value for name, value in steps.items()},
    }
    if eyes < 2:
        found |= {"mean_squares": np.nan, "mean_design": np.nan}
    found["mean_margin"] = CONSTANTS.normal_95 * sd(error) * np.sqrt(found["mean_design"] / eyes) if eyes else np.nan
    for side, sign in (("above", 1), ("below", -1)):
        beyond = sign * found["mean_error"] - found["mean_margin"]
        found[f"mean_{side}"] = float(beside(beyond, beyond > CONSTANTS.rounding_slack))
    for prefix, values in (("", size), ("centred_", centred)):
        some = values[there]
        found |= {
            f"{prefix}mean_absolute": mean(values),
            f"{prefix}median_absolute": float(np.median(some)) if eyes else np.nan,
            f"{prefix}root_mean_square": float(np.linalg.norm(some) / np.sqrt(eyes)) if eyes else np.nan,
        }
        for key in LIMITS:
            found |= _shares(values <= limit(key) + CONSTANTS.rounding_slack, there, patient, f"{prefix}{key}")
    return found


def groups(rows: Rows) -> None:
    """The plan's own prediction by diagnosis, band of the mean K and year; keratoconus by band."""
    error = rows.line("error_lead")
    there = ~np.isnan(error)
    k, years = rows.number("mean_k"), rows.line("line_years")
    band = np.select(
        [
            k < CONSTANTS.goal_band_low - CONSTANTS.rounding_slack,
            k <= CONSTANTS.goal_band_high + CONSTANTS.rounding_slack,
        ],
        [1.0, 2.0],
        3.0,
    )
    period = np.where(
        np.isnan(years), np.nan, np.clip(np.ceil(years - CONSTANTS.rounding_slack), 1, GROUPS["period"][1])
    )
    diagnosis = rows.number("corneal_diagnosis")
    members = {"diagnosis": diagnosis, "band": beside(k, band), "period": period}
    members = {key: np.where(there, value, np.nan) for key, value in members.items()}
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
    eyes = np.array([float(c.size) for c in cones])
    rows.put("bands", cone_eyes=eyes, **{f"cone_{key}": _share(cones, limit(key)) for key in ("half", "one")})


def _share(groups: list[Array], most: float) -> Array:
    return np.array([100 * (g <= most + CONSTANTS.rounding_slack).mean() if g.size else np.nan for g in groups])


def _group(rows: Rows, name: str, wholes: list[Array]) -> None:
    """The rows of a table of groups, from the errors of each group's lines, NaN in the others."""
    parts = [whole[~np.isnan(whole)] for whole in wholes]
    eyes = np.array([float(part.size) for part in parts])
    some = [part if part.size else np.array([np.nan]) for part in parts]
    rows.put(
        name,
        eyes_counted=eyes,
        group_mean=[mean(part) for part in some],
        group_sd=[sd(part) for part in some],
        group_mean_absolute=[mean(np.abs(part)) for part in some],
        group_median_absolute=[float(np.median(np.abs(part))) for part in some],
        group_root_mean_square=[float(np.linalg.norm(part) / np.sqrt(part.size)) for part in some],
        group_squares=[float((part**2).sum()) for part in parts],
        group_before=eyes.cumsum() - eyes,
        group_middle=np.ceil(eyes / 2),
        group_lower=eyes.cumsum() - np.floor(eyes / 2),
        group_upper=eyes.cumsum() - np.ceil(eyes / 2) + 1,
    )
    patient = patients.patients(rows)
    table: dict[str, list[float]] = {}
    for whole in wholes:
        there = ~np.isnan(whole)
        found = patients.counted(patient, there)
        for key in LIMITS:
            found |= _shares(np.abs(whole) <= limit(key) + CONSTANTS.rounding_slack, there, patient, key)
        for row, value in found.items():
            table.setdefault(row, []).append(value)
    arrays = {row: np.array(values) for row, values in table.items()}
    rows.put(name, **arrays)
    for key in LIMITS:
        rows.put(name, **proportions(key, arrays[f"inside_{key}"], eyes, arrays[f"design_{key}"]))
