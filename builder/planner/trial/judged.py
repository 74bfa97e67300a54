"""What the planned eyes show, figure by figure: groups down, the four meanings of focus always side by side.

Shares are 0 to 1, all else D. `gains`: the toric lens leaves at least GAIN less cylinder than the spherical one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.formulas import FORMULAS
from builder.planner.reference.plan.sources import SOURCES

from .eyes import MEANINGS, diagnosis
from .planned import CHANCES, Array, Planned
from .rules import HYPEROPIC, MYOPIC

GAIN = 0.25
PARTS = ("length", "cornea", "position", "power", "refraction", "long eye", "focus")
DRAWN = ("length", "position", "power", "refraction")
CORNEAL = SOURCES[:5]  # the sources that a plan may choose
FORMULA, ODDS, SAID, TORIC, SOURCE = "formula", "odds", "parts", "toric", "source"


class Figure(NamedTuple):
    """One figure: of which table, group and meaning, of what, which, and how many eyes stand behind it."""

    table: str
    group: str
    meaning: str
    what: str
    figure: str
    value: float
    eyes: int


def groups(found: Planned) -> dict[str, Array]:
    """Eyes by group: cones by the band of their mean K (watson2014), the others by kind."""
    cone = np.array([diagnosis(kind) == "keratoconus" for kind in found.kinds])
    k, low, high = found.plan["mean_k"], CONSTANTS.goal_band_low, CONSTANTS.goal_band_high
    bands = {f"cones, K below {low:g}": k < low, f"cones, K {low:g} to {high:g}": (k >= low) & (k < high)}
    bands[f"cones, K from {high:g}"] = k >= high
    kinds = {kind.replace("_", " "): found.kinds == kind for kind in dict.fromkeys(found.kinds[~cone])}
    return {key: which for key, which in ({k: v & cone for k, v in bands.items()} | kinds).items() if which.any()}


def judge(found: Planned) -> Iterator[Figure]:
    """All tables."""
    for group, which in groups(found).items():
        for meaning in MEANINGS:
            yield from _errors(found, group, which, meaning)
            yield from _odds(found, group, which, meaning)
            yield from _missed(found, group, which, meaning)
        yield from _parts(found, group, which)
    for verdict in dict.fromkeys(found.plan["toric_verdict"]):
        for meaning in MEANINGS:
            yield from _toric(found, verdict, meaning)


def _errors(found: Planned, group: str, which: Array, meaning: str) -> Iterator[Figure]:
    every = {"lead": found.error[meaning]} | {key: found.by_formula[meaning, key] for key in FORMULAS}
    for what, errors in every.items():
        seen = errors[which & ~np.isnan(errors)]
        if len(seen):
            figures = {"mean": seen.mean(), "sd": seen.std(), "rms": np.sqrt((seen**2).mean())}
            figures |= {"hyperopic": (seen > HYPEROPIC).mean(), "myopic": (seen < MYOPIC).mean()}
            yield from _all(FORMULA, group, meaning, what, figures, len(seen))


def _odds(found: Planned, group: str, which: Array, meaning: str) -> Iterator[Figure]:
    error, predicted = found.error[meaning], found.plan["predicted_mean"]
    after, goal = error + predicted, found.plan["goal_refraction"]
    events: dict[str, Callable[[], Array]] = {
        "chance_hyperopic": lambda: after > CONSTANTS.hyperopic_from,
        "chance_myopic": lambda: after < goal - CONSTANTS.myopic_beyond,
        "chance_within_050": lambda: np.abs(error) <= CONSTANTS.within_half,
        "chance_within_100": lambda: np.abs(error) <= CONSTANTS.within_one,
    }
    there = which & ~np.isnan(error)
    for chance in CHANCES:
        figures = {"said": found.plan[chance][there].mean(), "seen": events[chance]()[there].mean()}
        yield from _all(ODDS, group, meaning, chance, figures, int(there.sum()))


def _missed(found: Planned, group: str, which: Array, meaning: str) -> Iterator[Figure]:
    for source in CORNEAL:
        missed = found.missed[meaning, source][which]
        missed = missed[~np.isnan(missed)]
        if len(missed):
            yield Figure(SOURCE, group, meaning, source, "median", float(np.median(missed)), len(missed))


def parts_seen(found: Planned) -> dict[str, Array]:
    """Each part of the error that was, by eye: of the cornea, what the mean of all meanings leaves."""
    together = np.stack([found.error[meaning] for meaning in MEANINGS])
    drawn = sum(found.seen_parts[key] for key in DRAWN)
    return dict(found.seen_parts) | {"cornea": together.mean(axis=0) - drawn, "focus": together.std(axis=0, ddof=1)}


def _parts(found: Planned, group: str, which: Array) -> Iterator[Figure]:
    """What each part was said to be and what it was."""
    seen = parts_seen(found)
    for at, part in enumerate(PARTS):
        figures = {"said": rms(found.plan["part_error"][which, at])}
        if part in seen:
            figures["seen"] = rms(seen[part][which])
        yield from _all(SAID, group, "all", part, figures, int(which.sum()))


def _toric(found: Planned, verdict: str, meaning: str) -> Iterator[Figure]:
    has = (found.plan["lens_cylinder"] > 0) & (found.plan["toric_verdict"] == verdict)
    toric, plain = (found.cylinder[meaning, kind][has] for kind in ("toric", "spherical"))
    if has.any():
        figures = {"toric": np.nanmedian(toric), "spherical": np.nanmedian(plain)}
        figures |= {"gains": (plain - toric >= GAIN).mean(), "loses": (toric - plain >= GAIN).mean()}
        yield from _all(TORIC, "all", meaning, verdict, figures, int(has.sum()))


def _all(table: str, group: str, meaning: str, what: str, figures: dict[str, float], eyes: int) -> Iterator[Figure]:
    for figure, value in figures.items():
        yield Figure(table, group, meaning, what, figure, float(value), eyes)


def rms(values: Array) -> float:
    """Root mean square of those that there are."""
    return float(np.sqrt(np.nanmean(values**2)))
