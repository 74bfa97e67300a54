"""What a spherical rigid contact lens leaves over each cylinder, by hand: the tears take the place of the front."""

import pytest

from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from tests.support.workbooks import by_key, expected, typed_case

# Tears have the index 1.336; keratometry is read with 1.3375: the tears mask 336 / 337.5 of it (textbook optics).
UNMASKED = 1 - 336 / 337.5


def test_of_keratometry_alone_the_lens_alone_is_left(model: Model) -> None:
    """Front readings alone: without a cylinder next to nothing is left, with one all of the lens's effect."""
    change = typed_cells(model, {"right": {"astigmatism_source": "ring", "incision_sia": 0.0}})
    bare = {place: None for place in typed_cells(model, {"right": {"zone3_flat": 43.0, "zone3_steep": 44.0}})}
    cells = expected(model, [{**typed_case("1-cone-both-eyes"), **bare, **change}])[0]

    def left(instance: str) -> float:
        return float(cells[model.layout.cells("near", "near_rigid")["right", instance].place])

    cornea = by_key(model, cells, "total_cylinder", "right")
    assert cornea == pytest.approx(
        by_key(model, cells, "ring_steep_power", "right") - by_key(model, cells, "ring_flat_power", "right")
    )
    assert left("no_cylinder") == pytest.approx(-UNMASKED * cornea, abs=1e-9)
    effect = by_key(model, cells, "lens_cylinder_at_cornea", "right")
    assert effect > 1
    assert left("the_chosen") == pytest.approx(-(effect - UNMASKED * cornea), abs=1e-9)


def test_what_is_behind_the_front_is_left(model: Model) -> None:
    """With the back measured, what the tears do not mask is left even without a cylinder."""
    change = typed_cells(model, {"right": {"incision_sia": 0.0}})
    cells = expected(model, [{**typed_case("1-cone-both-eyes"), **change}])[0]
    rows = {key: by_key(model, cells, key, "right") for key in ("cornea_x", "cornea_y", "front_x", "front_y")}
    rest = complex(rows["cornea_x"], rows["cornea_y"]) - 336 / 337.5 * complex(rows["front_x"], rows["front_y"])
    found = cells[model.layout.cells("near", "near_rigid")["right", "no_cylinder"].place]
    assert found == pytest.approx(-abs(rest), abs=1e-9) and abs(rest) > 0.2
