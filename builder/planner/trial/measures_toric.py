"""How the rules for a toric lens are tried: who gains, what is left and missed, by bands of a point of fit."""

from __future__ import annotations

import numpy as np

from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.corneal_map import ring_waves

from .bench import Bench, Entry, Shown, Tried, bands
from .eyes import MEANINGS
from .judged import GAIN

APART = 0.05  # of the eyes: so much more must gain on one side of a limit than on the other


def separates(found: Bench, entry: Entry) -> Tried:
    """Toric against spherical by bands of a point of fit; holds where beyond the last limit fewer gain."""
    value = skew(found) if entry["item"] == "skew" else found.planned.plan[f"fit_{entry['item']}"].astype(float)
    lines: list[Shown] = []
    shares = []
    for band, which in bands(value, entry["limits"]):
        gained, *shown = _toric(found, band, which)
        shares.append(gained.values)
        lines += [gained, *shown]
    return Tried(lines, tuple(first - last > APART for first, last in zip(shares[0], shares[-1], strict=True)))


def verdict(found: Bench, entry: Entry) -> Tried:
    """The same by the verdict; holds where fewer gain the worse it is."""
    said = found.planned.plan["toric_verdict"]
    shown = {word: _toric(found, word, said == word) for word in entry["verdicts"]}
    first, *_, last = (lines[0].values for lines in shown.values())
    holds = tuple(one - other > APART for one, other in zip(first, last, strict=True))
    return Tried([line for lines in shown.values() for line in lines], holds)


def _toric(found: Bench, band: str, which: np.ndarray) -> list[Shown]:
    which = which & (np.nan_to_num(found.planned.plan["lens_cylinder"]) > 0)
    pairs = [[found.planned.cylinder[m, kind][which] for kind in ("spherical", "toric")] for m in MEANINGS]
    columns = {
        "gain": [float((plain - toric >= GAIN).mean()) for plain, toric in pairs],
        "lose": [float((toric - plain >= GAIN).mean()) for plain, toric in pairs],
        "median left": [float(np.nanmedian(toric)) for _, toric in pairs],
        "median missed": [float(np.nanmedian(found.planned.missed[m, "total3"][which])) for m in MEANINGS],
    }
    return [Shown(f"{band}: {key}", int(which.sum()), tuple(values)) for key, values in columns.items()]


def skew(found: Bench) -> np.ndarray:
    """Skew (degrees) of the steep halves of the map's 3 mm ring, from its first three waves; NaN below its cylinder."""
    waves, angle = ring_waves([line["map_d3"] for line in found.lines]), np.radians(np.arange(360.0))
    orders = np.arange(1, 4)[:, None]
    power = waves.cosine[:, :3] @ np.cos(orders * angle) + waves.sine[:, :3] @ np.sin(orders * angle)
    steep = np.degrees(np.arctan2(waves.sine[:, 1], waves.cosine[:, 1])) / 2
    halves = []
    for side in (0, 180):
        away = (np.arange(360.0) - steep[:, None] - side + 180) % 360 - 180
        halves.append(
            np.take_along_axis(away, np.argmax(np.where(np.abs(away) <= 60, power, -1e9), axis=1)[:, None], 1)
        )
    enough = 2 * np.hypot(waves.cosine[:, 1], waves.sine[:, 1]) >= CONSTANTS.skew_from
    return np.where(enough, np.abs(halves[0] - halves[1])[:, 0], np.nan)


def missed(found: Bench, entry: Entry) -> Tried:
    """Median missed where the back is not measured, by bands of asymmetry; holds where the outer bands are as said."""
    value = found.planned.plan["fit_asymmetry_size"].astype(float)
    has = np.nan_to_num(found.planned.plan["lens_cylinder"]) > 0
    lines = []
    for source in (entry["source"], "total3"):
        for band, which in bands(value, entry["bands"]):
            each = [found.planned.missed[meaning, source][which & has] for meaning in MEANINGS]
            values = tuple(float(np.nanmedian(one)) for one in each)
            lines.append(Shown(f"{source}, {band}: median", int((which & has).sum()), values))
    said = CONSTANTS.missed_small, CONSTANTS.missed_large
    ends = lines[0], lines[len(entry["bands"])]
    near = [
        [abs(value - as_said) < entry["within"] for value in line.values]
        for line, as_said in zip(ends, said, strict=True)
    ]
    return Tried(lines, tuple(all(one) for one in zip(*near, strict=True)))
