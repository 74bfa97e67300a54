"""Rules that were changed, on the bench before and after, by kind of cornea and under every meaning of focus."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.odds import chance_above, chance_within

from .bench import Bench
from .decided import rules
from .eyes import MEANINGS
from .judged import PARTS, groups, rms
from .measures import figures
from .planned import REGULAR, Array

COUNTED = ("hyperopic", "myopic", "rms")
BEFORE = (0.5, 1.25, 2.5)  # D: what the odds gave the cornea at the three K before pupil and focus had a part of theirs


def before_and_after(found: Bench) -> Iterator[str]:
    """A block for each changed rule: kinds down, meanings across; then what the odds said."""
    for entry in rules():
        if "before" not in entry:
            continue
        yield ""
        yield f"{entry['rule']}: {entry['before']} > {entry['after']}"
        yield "  % beyond +0.50 D hyperopic, % beyond 1 D myopic, RMS; before > after"
        yield f"  {'':22}" + "".join(f"{meaning:>27}" for meaning in MEANINGS)
        for kind in dict.fromkeys(found.planned.kinds):
            if kind.startswith(tuple(entry["shown"])):
                of_kind = found.planned.kinds == kind
                cells = [_cell(found, of_kind, meaning, (entry["before"], entry["after"])) for meaning in MEANINGS]
                yield f"  {kind.replace('_', ' '):22}" + "".join(f"{cell:>27}" for cell in cells)
    yield from _odds(found)


def _cell(found: Bench, which: Array, meaning: str, rules_of: tuple[str, str]) -> str:
    before, after = (figures(found.error[meaning, rule][which]) for rule in rules_of)
    return "  ".join(_pair(key, before[key], after[key]) for key in COUNTED)


def _pair(key: str, before: float, after: float) -> str:
    return f"{before:.2f}>{after:.2f}" if key == "rms" else f"{100 * before:.0f}>{100 * after:.0f}"


def sd_before(plan: Mapping[str, Array], regular: Array) -> Array:
    """The standard deviation that the odds said before pupil and meaning of focus were a part of their own."""
    knots = [CONSTANTS.doubt_mild_k, CONSTANTS.doubt_moderate_k, CONSTANTS.doubt_steep_k]
    by_band = np.where(regular, 0, np.interp(plan["mean_k"], knots, BEFORE))
    sd = np.fmax(np.fmax(CONSTANTS.sd_cornea_least, plan["range_spread"] / 2), by_band)
    cuts = plan["diagnosis"] == "radial_cuts"
    sd = np.where(cuts, np.fmax(sd, CONSTANTS.sd_cornea_cuts), sd)
    cornea, focus = (plan["part_error"][:, PARTS.index(part)] for part in ("cornea", "focus"))
    return np.asarray(np.sqrt(plan["error_sd"] ** 2 - cornea**2 - focus**2 + (plan["part_slope"][:, 1] * sd) ** 2))


def _odds(found: Bench) -> Iterator[str]:
    plan, regular = found.planned.plan, found.planned.kinds == REGULAR
    before = sd_before(plan, regular)
    said = {
        "SD": (before, plan["error_sd"]),
        "within 1 D": (chance_within(CONSTANTS.within_one, before), plan["chance_within_100"]),
        "hyperopic": (chance_above(CONSTANTS.hyperopic_from, plan["predicted_mean"], before), plan["chance_hyperopic"]),
    }
    yield ""
    yield "Odds: said before > said after; seen under each meaning, and all four together (SD: root mean square)"
    yield f"  {'':58}" + "".join(f"{meaning:>16}" for meaning in (*MEANINGS, "all"))
    for group, which in groups(found.planned).items():
        for what, pair in said.items():
            there = which & ~np.isnan(plan["error_sd"])
            told = [rms(one[there]) if what == "SD" else float(one[there].mean()) for one in pair]
            seen = [_seen(found, there, meaning, what) for meaning in MEANINGS]
            seen.append(float(np.sqrt(np.mean(np.square(seen)))) if what == "SD" else float(np.mean(seen)))
            head = f"  {group + ' (' + str(there.sum()) + ')':34}{what:12}{told[0]:.2f}>{told[1]:.2f}"
            yield f"{head:60}" + "".join(f"{one:>16.2f}" for one in seen)


def _seen(found: Bench, there: Array, meaning: str, what: str) -> float:
    error = found.planned.error[meaning][there]
    if what == "SD":
        return rms(error)
    if what == "within 1 D":
        return float((np.abs(error) <= CONSTANTS.within_one).mean())
    return float((error + found.planned.plan["predicted_mean"][there] > CONSTANTS.hyperopic_from).mean())
