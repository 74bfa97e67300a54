"""Plays slips: does the workbook notice, and if not, how many dioptres does the patient lose?"""

from __future__ import annotations

import copy
import itertools
import random
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from builder.engine.model import Model
from builder.engine.values import stored
from builder.planner.exchange.casefile import typed_cells
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.cells import Values
from tests.slips import single  # noqa: F401  enters its slips
from tests.slips.catalogue import AFTER_CHECK, CATALOGUE
from tests.slips.right import Case, evaluated
from tests.support.asked import Asked, together
from tests.support.witnesses import Compared, compare

PUT = 0
CHECKED = "changed_after_check"


@dataclass
class Tally:
    """How often a slip was played, how often noticed (and by which points), and the losses where it was not (D)."""

    name: str
    played: int = 0
    caught: int = 0
    stopped: int = 0
    by: dict[str, int] = field(default_factory=dict)
    losses: list[float] = field(default_factory=list)

    @property
    def worst(self) -> float:
        """The greatest loss of those not noticed, 0 without one."""
        return max(self.losses, default=0.0)


def vectors(values: Values, number: int, side: int) -> NDArray[np.float64]:
    """The refraction that the implanted lens gives, at the cornea: mean and both parts of the cylinder (D)."""
    return np.array(
        [values.get("foreseen", f"trace_{key}")[number, side, PUT] for key in ("mean", "straight", "oblique")]
    )


def with_lens(case: Case, eye: str, values: Values, number: int, side: int) -> Case | None:
    """The right case with the lens implanted that a plan releases; None if it releases none."""
    lens, power, cylinder, axis = (
        stored(values.get("eyes", key)[number, side])
        for key in ("lens_choice", "lens_power", "lens_cylinder", "marks_axis")
    )
    if power is None:
        return None
    put = copy.deepcopy(case)
    put[eye] |= {"implanted_lens": lens, "implanted_power": power, "implanted_cylinder": cylinder or 0.0}
    if axis is not None:
        put[eye]["implanted_axis"] = axis
    return put


def live(model: Model, values: Values, number: int, side: int) -> set[str]:
    """The points in force, the plan's included."""
    keys, on = model.spec.lists["points"].keys, values.get("points", "point_live")[number, side]
    plan_keys, plan_on = model.spec.lists["plan_points"].keys, values.get("plan_points", "plan_point_live")[number]
    return {key for key, flag in (*zip(keys, on, strict=True), *zip(plan_keys, plan_on, strict=True)) if flag}


Spoilt = tuple[int, int, str, Case]  # which tally, which right case, which eye, and what became of it


def spoil(rights: Sequence[Case], names: Sequence[str], each: int, seed: int = 17) -> list[Spoilt]:
    """Each slip in up to so many right cases, drawn."""
    draw, spoilt = random.Random(seed), list[Spoilt]()
    for place, name in enumerate(names):
        order = [(n, eye) for n, case in enumerate(rights) for eye in EYES if eye in case]
        draw.shuffle(order)
        found = ((n, eye, CATALOGUE[name](rights[n], eye)) for n, eye in order)
        spoilt += itertools.islice(((place, n, eye, case) for n, eye, case in found if case is not None), each)
    return spoilt


def in_cells(model: Model, spoilt: Sequence[Spoilt], names: Sequence[str], seen: Asked) -> Compared:
    """The reference against the cells as a witness or a program has them, in every spoilt case."""
    states = {f"{names[place]}, case {n}": typed_cells(model, case) for place, n, _, case in spoilt}
    together(seen, list(states.values()))
    return compare(model, states, seen)


def play(model: Model, rights: Sequence[Case], names: Sequence[str], each: int, seed: int = 17) -> list[Tally]:
    """Each slip in up to so many right cases, drawn; noticed is what raises a point that the right case has not."""
    tallies, spoilt = [Tally(name) for name in names], spoil(rights, names, each, seed)
    for place, *_ in spoilt:
        tallies[place].played += 1
    before, after = evaluated(model, list(rights)), evaluated(model, [case for *_, case in spoilt])
    levels = {point.key: point.level for point in model.spec.points}
    silent: list[tuple[Tally, int, Case, Case]] = []
    for at, (place, number, eye, _) in enumerate(spoilt):
        side, tally = EYES.index(eye), tallies[place]
        raised = live(model, after, at, side) - live(model, before, number, side)
        if not tally.name.startswith(AFTER_CHECK):
            raised -= {CHECKED}  # the second person types the code that she sees
        for key in raised:
            tally.by[key] = tally.by.get(key, 0) + 1
        tally.caught += bool(raised)
        tally.stopped += any(levels[key] in ("stop", "confirm") for key in raised)
        meant = with_lens(rights[number], eye, before, number, side)
        given = None if raised else with_lens(rights[number], eye, after, at, side)
        if meant and given:
            silent.append((tally, side, meant, given))
    if silent:
        values = evaluated(model, [case for *_, meant, given in silent for case in (meant, given)])
        for at, (tally, side, _, _) in enumerate(silent):
            gap = vectors(values, 2 * at + 1, side) - vectors(values, 2 * at, side)
            tally.losses.append(float(np.linalg.norm(np.nan_to_num(gap))))
    return tallies
