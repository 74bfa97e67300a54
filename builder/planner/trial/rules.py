"""The error that each rule for mean K makes, by kind of cornea, under four meanings of focus.

Only K errs here: length and lens position are known, the lens is ideal. Each rule's K goes through thin-lens vergence
(Holladay 1's corneal power); the traced eye then has the refraction that it has. The mean of regular eyes is taken
off, rule by rule and meaning by meaning, as a clinic's own lens constant would do. Powers in D, lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from builder.planner.optics.corneas import Corneas, draw, kinds
from builder.planner.optics.eye import Eye, Pupil
from builder.planner.optics.focus import refractions
from builder.planner.optics.instruments import read
from builder.planner.optics.lenses import IdealLens
from builder.planner.optics.rays import power
from builder.planner.optics.surfaces import Array, column
from builder.planner.reference import vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.corneal_map import disc_mean
from builder.planner.reference.keratometry import back_corrected_k, total_power_equivalent_k

PUPILS = (3.0, 4.0)
REGULAR = "regular"
CONES = ("central_cone", "paracentral_cone")
LENGTH, POSITION = (23.65, 1.35), (5.0, 0.3)  # mm, mean and spread; the spread is drawn in beyond two of it
HYPEROPIC, MYOPIC = 0.50, -1.00  # what is counted: beyond the one, below the other


class Tried(NamedTuple):
    """Eyes of one kind: ring K, and the refraction's error by meaning and rule, plus is hyperopic; each (eyes,)."""

    kind: str
    ring: Array
    error: Mapping[tuple[str, str], Array]


class Line(NamedTuple):
    """One line of the table: of whom, under which meaning, by which rule; mean and spread (D), shares of the eyes."""

    group: str
    meaning: str
    rule: str
    eyes: int
    mean: float
    sd: float
    hyperopic: float
    myopic: float


def ks(reading: Mapping[str, Array]) -> dict[str, Array]:
    """What each rule takes for K, from one visit's readings."""

    def middle(key: str) -> Array:
        return (reading[f"{key}_flat"] + reading[f"{key}_steep"]) / 2

    rings = np.stack([reading[f"map_d{n}"].mean(-1) for n in (1, 2, 3, 4)], axis=-1)
    centre = reading["map_center"].mean(-1)
    back = (reading["back_flat_radius"], reading["back_steep_radius"])
    candidates = {key: middle(key) for key in ("ring", "zone3", "zone4", "second")}
    candidates |= {"map3": disc_mean(centre, rings[:, :3]), "map4": disc_mean(centre, rings)}
    candidates |= {"back": back_corrected_k(candidates["zone3"], *back, reading["thickness_central"])}
    return {
        "lowest": np.min(list(candidates.values()), axis=0),
        "ring": candidates["ring"],
        "mean of zones": (candidates["zone3"] + candidates["zone4"]) / 2,
        "back-corrected": candidates["back"],
        "total": total_power_equivalent_k(reading["total3_flat"], reading["total3_steep"]),
        "peak": reading["peak_k"],
    }


def tried(corneas: Corneas, generator: np.random.Generator) -> Tried:
    """Eyes behind such corneas: read, planned by every rule, traced."""
    eyes = len(corneas)
    length, position = (mean + sd * np.clip(generator.standard_normal(eyes), -2, 2) for mean, sd in (LENGTH, POSITION))
    reading = read(corneas, generator)
    by_rule = ks(reading)
    # One lens for all rules, so that one tracing serves them all: that of the ring.
    strength = vergence.plano_power(vergence.corneal_power("Holladay 1", by_rule["ring"]), length, position)
    eye = Eye(corneas.front, corneas.back, IdealLens(power(strength), column(position)), column(length))
    error = {}
    for diameter in PUPILS:
        pupil = Pupil(column(diameter), column(0.0), column(0.0))
        for focus, achieved in refractions(eye, pupil).items():
            for rule, k in by_rule.items():
                thin = vergence.corneal_power("Holladay 1", k)
                predicted = vergence.refraction(thin, length, position, strength, vertex=0.0)
                error[f"{diameter:g} mm {focus}", rule] = achieved.mean - predicted
    return Tried(corneas.kind, by_rule["ring"], error)


def try_rules(eyes: int, seed: int) -> list[Tried]:
    """So many eyes in all, the kinds in equal parts; the mean of the regular ones is taken off every error."""
    generator = np.random.Generator(np.random.PCG64(seed))
    each = max(eyes // len(kinds()), 1)
    found = [tried(draw(kind, each, generator), generator) for kind in kinds()]
    usual = {key: np.nanmean(error) for key, error in next(one for one in found if one.kind == REGULAR).error.items()}
    return [one._replace(error={key: error - usual[key] for key, error in one.error.items()}) for one in found]


def groups(found: list[Tried]) -> Iterator[tuple[str, list[tuple[Tried, NDArray[np.bool_]]]]]:
    """Those whom a line of the table is of: each kind, but cones by the band of their ring K (watson2014)."""
    cones = [one for one in found if one.kind.startswith(CONES)]
    low, high = CONSTANTS.goal_band_low, CONSTANTS.goal_band_high
    for name, least, most in ((f"cones, K below {low:g}", 0, low), (f"cones, K {low:g} to {high:g}", low, high)):
        yield name, [(one, (one.ring >= least) & (one.ring < most)) for one in cones]
    yield f"cones, K from {high:g}", [(one, one.ring >= high) for one in cones]
    for one in found:
        if one not in cones:
            yield one.kind.replace("_", " "), [(one, one.ring > 0)]


def table(found: list[Tried]) -> Iterator[Line]:
    """Every group under every meaning by every rule; a group without eyes has no lines."""
    for name, members in groups(found):
        for meaning, rule in members[0][0].error:
            errors = np.concatenate([one.error[meaning, rule][which] for one, which in members])
            if not len(errors):
                continue
            shares = (errors > HYPEROPIC).mean(), (errors < MYOPIC).mean()
            yield Line(name, meaning, rule, len(errors), errors.mean(), errors.std(), *map(float, shares))
