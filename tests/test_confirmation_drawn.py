"""No drawn change of a confirmed plan leaves a confirmation standing, in the cells (`python -m tests.confirmed`)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from builder.engine.model import Model
from tests.confirmed import Content, Found, judge, search

STATES, OTHERS = 100, 15


def test_no_drawn_state_leaves_a_confirmation_standing(model: Model) -> None:
    """Input after input, alone or with two more, and each pair of states of one eye."""
    found = search(model, STATES)
    assert found.wrong == []
    assert found.states >= STATES and found.others >= OTHERS and len(found.inputs) > STATES / 2


BASE = Content("base", ("goal_deep",), (1.0, 21.0), 12345.0, 7.0, True, True, "ready")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({}, 0),
        ({"warnings": ("goal_above_zero",), "code": 1.0}, 1),  # another warning
        ({"plan": (1.0, 20.5), "code": 1.0}, 2),  # another plan: neither confirmation nor check
        ({"plan": (1.0, 20.5), "code": 1.0, "checked": False}, 1),
        ({"warnings": ("goal_above_zero",), "confirmed": False, "state": "check"}, 1),  # one code for two warnings
        ({"confirmed": False, "code": 1.0}, 1),  # ready, with a warning that nobody confirmed
        ({"plan": (1.0, 20.5), "code": 1.0, "confirmed": False, "checked": False, "state": "check"}, 0),
    ],
)
def test_what_must_not_stand_is_found(change: dict[str, object], told: int) -> None:
    """The judge itself: each kind of standing confirmation is named."""
    found = Found()
    judge("right", [BASE, replace(BASE, name="other", **change)], found)
    assert len(found.wrong) == told, found.wrong
