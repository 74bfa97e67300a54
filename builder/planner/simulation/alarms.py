"""How often each slip and warning is raised in right entries: the invented eyes before surgery, by kind of cornea."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from builder.planner.reference.eyes import EYES
from builder.planner.simulation.store import read_simulated
from builder.planner.values import evaluate_cases

MUCH, OFTEN = 0.10, 0.25  # a soft warning's aim, and from where on it is to be changed or made a note
AIM_OF_STOPS = 0.03  # of eyes with a point that waits for a yes of its own
KINDS = {
    "regular": ("regular",),
    "cones": ("keratoconus", "ectasia_after_laser", "pellucid"),
    "laser": ("after_myopic_laser", "after_hyperopic_laser"),
    "others": ("radial_cuts", "graft", "other"),
}
AFTERWARDS = ("visit", "implanted_", "after_")  # what the operation brought; the entries before it are right ones


@dataclass(frozen=True)
class Alarm:
    """A point, its level, and in how many of how many eyes of each kind of cornea it is raised."""

    key: str
    level: str
    raised: dict[str, int]
    eyes: dict[str, int]

    def share(self, kind: str) -> float:
        """Of the eyes of a kind; 0 without one."""
        return self.raised[kind] / self.eyes[kind] if self.eyes[kind] else 0.0

    @property
    def most(self) -> float:
        """The largest share of a kind with ten eyes or more."""
        return max((self.share(kind) for kind in self.eyes if self.eyes[kind] >= 10), default=0.0)


def alarms(model: Model) -> tuple[list[Alarm], float]:
    """Every slip and warning, and the share of eyes that any point waiting for its own yes stops."""
    cases = read_simulated()
    for case in cases:
        for eye in EYES:
            for key in [key for key in case.get(eye, {}) if key.startswith(AFTERWARDS)]:
                del case[eye][key]
    values = evaluate_cases(model, [typed_cells(model, case) for case in cases])
    live, order = values.get("points", "point_live"), model.spec.lists["points"].keys
    words, diagnosis = model.spec.words, values.get("eyes", "corneal_diagnosis")
    used = values.get("eyes", "eye_used") == 1
    where = {}
    for kind, keys in KINDS.items():
        names = [words.get("choice", key) for key in keys]
        where[kind] = used & [[of in names for of in pair] for pair in diagnosis]
    eyes = {kind: int(mask.sum()) for kind, mask in where.items()}
    found = []
    for point in model.spec.points:
        if not point.of_whole and point.code:
            on = live[..., order.index(point.key)] == 1
            found.append(Alarm(point.key, point.level, {k: int((on & m).sum()) for k, m in where.items()}, eyes))
    stops = [order.index(alarm.key) for alarm in found if alarm.level == "confirm"]
    return found, float((live[..., stops].max(axis=-1)[used] == 1).mean())


def told(model: Model) -> Iterator[str]:
    """The rates, a line at a time, the most frequent first; those that no right entry raises in one line."""
    found, stopped = alarms(model)
    eyes = next(iter(found)).eyes
    yield "raised in right entries       " + ", ".join(f"{kind} {count}" for kind, count in eyes.items()) + " eyes"
    for alarm in sorted(found, key=lambda a: (-a.most, a.key)):
        if any(alarm.raised.values()):
            shares = "  ".join(f"{kind} {alarm.share(kind):4.0%}" for kind in eyes)
            beyond = "  OVER A QUARTER" if alarm.most > OFTEN else "  over a tenth" if alarm.most > MUCH else ""
            yield f"  {alarm.key:28}{shares}  {alarm.level}{beyond}"
    silent = [alarm.key for alarm in found if not any(alarm.raised.values())]
    yield f"  in no eye                   {len(silent)} of {len(found)}"
    yield f"eyes stopped until a yes      {stopped:9.1%}    aim: below {AIM_OF_STOPS:.0%}"
