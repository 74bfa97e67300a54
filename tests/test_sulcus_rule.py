"""The published rule for a lens in the sulcus: Dubey R, Birchall W, Grigg J. Ophthalmology 2012;119:261-265.

A lens of 18 to 25 D is reduced by at least 1.0 D, a stronger one by 1.5 to 2.0 D; of weaker ones nothing is published.
"""

from __future__ import annotations

import pytest

from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from tests.support.followed import case_of
from tests.support.workbooks import by_key, expected, typed_case


def _published(power: float) -> tuple[float | None, float | None]:
    """The power left after the smallest published reduction, and the largest reduction, of a lens for the bag."""
    if power < 18:
        return None, None
    return (power - 1.0, None) if power <= 25 else (power - 1.5, 2.0)


def test_the_rule_at_each_of_its_ends(model: Model) -> None:
    """The goal moves the lens through the bands by half dioptres."""
    goals = [step / 4 for step in range(-16, 13)]
    cases = [typed_cells(model, case_of("ready", goal=goal, sulcus_lens="Example Curlew")) for goal in goals]
    powers = set()
    for cells in expected(model, cases):
        power = by_key(model, cells, "lens_power", "right")
        powers.add(power)
        found = tuple(by_key(model, cells, key, "right") for key in ("sulcus_power_rule", "sulcus_rule_most"))
        assert found == _published(power), power
        said = by_key(model, cells, "sulcus_note", "right")
        assert ("no figure" in said) is (power < 18), power
    assert {17.5, 18.0, 25.0, 25.5} <= powers


def test_the_rule_falls_short_in_a_steep_cornea(model: Model) -> None:
    """There the lens moved forward needs more taken away than the rule says, and the sheet tells it."""
    cells = expected(model, [typed_case("sulcus-by-the-published-rule")])[0]
    strong, steep = (by_key(model, cells, "lens_power", eye) for eye in ("right", "left"))
    assert strong > 25 >= steep >= 18
    assert by_key(model, cells, "sulcus_power", "left") < by_key(model, cells, "sulcus_power_rule", "left")
    assert "falls short" in by_key(model, cells, "sulcus_note", "left")


@pytest.mark.parametrize("key", ["sulcus_rule_less", "sulcus_rule_most", "sulcus_power_rule"])
def test_the_rule_names_its_source(model: Model, key: str) -> None:
    """On the formula list and in the constants."""
    row = model.layout.cells("eyes", key)["right", "right"].row
    assert row.source == "dubey2012"
