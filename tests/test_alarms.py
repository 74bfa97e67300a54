"""False alarms: how often slips and warnings are raised in right entries, here the invented eyes before surgery.

The aims are the design's own (no source): what waits for a yes in under 3 % of eyes, a warning in at most a quarter of
the eyes of its kind of cornea. `python -m builder bench` prints the table.
"""

from __future__ import annotations

import pytest

from builder.engine.model import Model
from builder.planner.simulation.alarms import AIM_OF_STOPS, KINDS, OFTEN, Alarm, alarms, told

FREQUENT = {  # warnings above a quarter: why they stay
    "a0_converted": "says of the example lens that it lacks a constant of its own, not of an entry",
    "eyes_apart": "true of the first eye of most who see badly without glasses, until the second: the patient is told",
}


@pytest.fixture(scope="module")
def found(model: Model) -> tuple[list[Alarm], float]:
    return alarms(model)


def test_hardly_a_right_entry_is_stopped(found: tuple[list[Alarm], float]) -> None:
    assert found[1] < AIM_OF_STOPS


def test_no_warning_is_raised_in_more_than_a_quarter_but_those_named(found: tuple[list[Alarm], float]) -> None:
    """And those named are still so frequent: a reason that is no longer needed leaves the list."""
    assert {alarm.key for alarm in found[0] if alarm.most > OFTEN} == FREQUENT.keys()


def test_every_slip_and_warning_is_counted_in_every_kind_of_cornea(
    model: Model, found: tuple[list[Alarm], float]
) -> None:
    assert {alarm.key for alarm in found[0]} == {p.key for p in model.spec.points if p.code and not p.of_whole}
    eyes = found[0][0].eyes
    assert eyes.keys() == KINDS.keys() and min(eyes.values()) >= 10 and sum(eyes.values()) == 120
    lines = list(told(model))
    assert len(lines) == 3 + sum(any(alarm.raised.values()) for alarm in found[0])
    assert "OVER A QUARTER" in lines[1] and "regular" in lines[0]
