"""How each rule is tried on the bench: figures, and under which meanings of focus what the rule says holds.

A measure takes the bench and the rule's entry in specs/clinical/decided.toml. Shares are 0 to 1, all else D.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from builder.planner.optics.corneas import draw, kinds
from builder.planner.optics.instruments import ring, total_traced
from builder.planner.reference import vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.keratometry import total_power_equivalent_k

from .bench import Bench, Entry, Shown, Tried, bands, cones
from .eyes import MEANINGS, name, numbers
from .judged import PARTS, groups, parts_seen, rms
from .measures_toric import missed, separates, verdict
from .planned import REGULAR
from .rules import HYPEROPIC, MYOPIC

COVERS = 0.9  # of the cones, under each meaning: what the least power used is fitted for


def figures(errors: np.ndarray) -> dict[str, float]:
    """Mean, RMS, shares beyond the two limits, of those that there are."""
    seen = errors[~np.isnan(errors)]
    share = {"hyperopic": (seen > HYPEROPIC).mean(), "myopic": (seen < MYOPIC).mean()}
    return {"mean": float(seen.mean()), "rms": rms(seen), **share}


def least(found: Bench, entry: Entry) -> Tried:
    """Errors by K rules in some kinds; holds where the first rule has the least of a figure."""
    which, rules, figure = found.kinds(*entry["kinds"]), entry["rules"], entry["figure"]
    by_rule = {rule: [figures(found.error[meaning, rule][which]) for meaning in MEANINGS] for rule in rules}
    lines = [
        Shown(f"{rule}: {key}", int(which.sum()), tuple(one[key] for one in each))
        for rule, each in by_rule.items()
        for key in ("mean", "rms", "hyperopic", "myopic")
    ]
    own, others = by_rule[rules[0]], [by_rule[rule] for rule in rules[1:]]
    return Tried(lines, tuple(all(own[n][figure] <= one[n][figure] for one in others) for n in range(len(MEANINGS))))


def decentred(found: Bench, entry: Entry) -> Tried:
    """Mean error of the lowest K in cones by how far the cone lies off; holds where a far one is hyperopic."""
    near, far = entry["limits"]
    off, cone = np.array([line["cone_off"] for line in found.lines]), cones(found)
    bands = {f"to {near:g} mm": off <= near, f"to {far:g} mm": (off > near) & (off <= far), "farther": off > far}
    lines = [_mean(found, key, cone & which) for key, which in bands.items()]
    return Tried(lines, tuple(value > 0 for value in lines[-1].values))


def _mean(found: Bench, what: str, which: np.ndarray) -> Shown:
    values = tuple(float(np.nanmean(found.error[meaning, "lowest"][which])) for meaning in MEANINGS)
    return Shown(f"{what}: mean", int(which.sum()), values)


def totals(found: Bench, entry: Entry) -> Tried:
    """How far traced totals lie above the ring in regular corneas; holds where that is more than `least`."""
    corneas = draw(REGULAR, len(found.lines) // 10, np.random.default_rng(len(found.lines)))
    lines = []
    for diameter in entry["diameters"]:
        power = total_traced(corneas, diameter).mean
        off = float((total_power_equivalent_k(power, power) - ring(corneas.front, 3.0).mean).mean())
        lines.append(Shown(f"{diameter:g} mm: mean above the ring", len(corneas), (off,) * len(MEANINGS)))
    return Tried(lines, (min(line.values[0] for line in lines) > entry["least"],) * len(MEANINGS))


def unlike_zones(found: Bench, entry: Entry) -> Tried:
    """By how much the back-corrected K of cones moves with a 4 mm front and a 3 mm back; holds above `least`."""
    which = cones(found)
    moved = np.abs(found.k["back-corrected, unlike zones"] - found.k["back-corrected"])[which]
    middle = float(np.median(moved))
    line = Shown("median of the change", int(which.sum()), (middle,) * len(MEANINGS))
    return Tried([line], (middle > entry["least"],) * len(MEANINGS))


def doubt(found: Bench, entry: Entry) -> Tried:
    """RMS of an error by bands of a row of the plan in warped corneas; holds where it rises with each band."""
    value = found.planned.plan[entry["row"]]
    warped = found.kinds(*entry["kinds"])
    lines = []
    for band, those in bands(value, entry["limits"]):
        which = those & warped
        values = tuple(rms(found.error[meaning, entry["error"]][which]) for meaning in MEANINGS)
        lines.append(Shown(f"{band}: rms", int(which.sum()), values))
    steps = [[line.values[n] for line in lines] for n in range(len(MEANINGS))]
    return Tried(lines, tuple(step == sorted(step) for step in steps))


def shifted(found: Bench, entry: Entry) -> Tried:
    """Mean error of the plan by band; holds where each band errs to myopia by what a lens step corrects, or more."""
    lines = [
        Shown(
            f"{group}: mean",
            int(which.sum()),
            tuple(float(np.nanmean(found.planned.error[m][which])) for m in MEANINGS),
        )
        for group, which in groups(found.planned).items()
        if group.startswith("cones")
    ]
    return Tried(lines, tuple(max(line.values[n] for line in lines) < -entry["least"] for n in range(len(MEANINGS))))


def parts(found: Bench, entry: Entry) -> Tried:
    """A part of the error of cones, said and seen; holds where seen is as said, within a share of it."""
    at = PARTS.index(entry["part"])
    lines, near = [], []
    for group, which in groups(found.planned).items():
        if group.startswith("cones"):
            said, seen = (
                rms(found.planned.plan["part_error"][which, at]),
                rms(parts_seen(found.planned)[entry["part"]][which]),
            )
            near.append(abs(seen / said - 1) < entry["within"])
            lines += [
                Shown(f"{group}: {what}", int(which.sum()), (value,) * len(MEANINGS))
                for what, value in (("said", said), ("seen", seen))
            ]
    return Tried(lines, (all(near),) * len(MEANINGS))


def odds(found: Bench, entry: Entry) -> Tried:
    """Chance to end within 1 D, said and seen; holds where both agree: of regular eyes alone, of cones on the mean."""
    lines = []
    near: list[tuple[bool, ...]] = []
    for group, which in groups(found.planned).items():
        if group.startswith(entry["groups"]):
            there = which & ~np.isnan(found.planned.plan["error_sd"])
            said = float(found.planned.plan["chance_within_100"][there].mean())
            errors = [found.planned.error[meaning][there] for meaning in MEANINGS]
            seen = tuple(float((np.abs(one) <= CONSTANTS.within_one).mean()) for one in errors)
            together = (float(np.mean(seen)),) * len(MEANINGS)
            compared = seen if group == REGULAR else together
            near.append(tuple(abs(one - said) < entry["within"] for one in compared))
            for what, values in (("said", (said,) * len(MEANINGS)), ("seen", seen), ("seen, all four", together)):
                lines.append(Shown(f"{group}: {what}", int(there.sum()), values))
    return Tried(lines, tuple(all(one) for one in zip(*near, strict=True)))


def need(found: Bench) -> np.ndarray:
    """By what share of the step from ring to 3 mm zone light used less than the lower of both, (meanings, eyes)."""
    ring_k, regular = found.k["ring"], found.planned.kinds == REGULAR
    zone = (numbers(found.lines, "zone3_flat") + numbers(found.lines, "zone3_steep")) / 2
    used = np.stack([numbers(found.lines, name(m, "mean")) for m in MEANINGS]) / vergence.corneal_power(
        "Holladay 1", 1.0
    )
    used -= (used - ring_k)[:, regular].mean(axis=1, keepdims=True)
    step = np.abs(zone - ring_k)
    return (np.minimum(ring_k, zone) - used) / np.where(step > 0, step, np.nan)


def covered(found: Bench, entry: Entry) -> Tried:
    """How many cones use no less than the ring less a share of its step; fitted on one half, judged on the other.

    Holds where the last of the shares covers enough of the half on which nothing was fitted.
    """
    needed, cone = need(found), cones(found)
    half = np.arange(len(cone)) // len(kinds()) % 2 == 0  # kinds come in turn: both halves have as many of each
    fitted_on, judged_on = needed[:, cone & half], needed[:, cone & ~half]
    fitted = max(float(np.nanquantile(one, COVERS)) for one in fitted_on)
    lines = [Shown("fitted on one half", fitted_on.shape[1], (fitted,) * len(MEANINGS))]
    for share in (*entry["shares"], fitted):
        values = tuple(float((one <= share).mean()) for one in judged_on)
        lines.append(
            Shown(f"covered by {'the fitted' if share == fitted else format(share, 'g')}", judged_on.shape[1], values)
        )
    return Tried(lines, tuple(value >= entry["least"] for value in lines[-2].values))


MEASURES: dict[str, Callable[[Bench, Entry], Tried]] = {
    "least": least,
    "decentred": decentred,
    "totals": totals,
    "unlike_zones": unlike_zones,
    "separates": separates,
    "verdict": verdict,
    "doubt": doubt,
    "shifted": shifted,
    "missed": missed,
    "parts": parts,
    "odds": odds,
    "covered": covered,
}


def tried(found: Bench, entries: list[Entry]) -> Iterator[tuple[Entry, Tried]]:
    """Every rule that the bench can try."""
    for entry in entries:
        if "measure" in entry:
            yield entry, MEASURES[entry["measure"]](found, entry)
