"""Lens power from the refraction, and what a refraction says of the cornea, against print and geometry."""

import numpy as np
import pytest

from builder.planner.reference import follow_up, vectors, vergence


@pytest.mark.parametrize(
    ("k", "refraction", "goal", "vertex", "position", "printed"),
    [
        (45.0, 12.0, -0.5, 14.0, 5.0, 22.90),  # no lens in the eye
        (45.0, 5.0, -0.5, 14.0, 5.0, 8.64),  # a second lens
        (45.0, -20.0, -0.5, 14.0, 3.5, -18.49),
    ],
)
def test_lens_power_from_the_refraction(k, refraction, goal, vertex, position, printed):
    """holladay1993, worked examples, written here from memory."""
    now, wanted = (vectors.spectacle_to_cornea(r, 0.0, 0.0, vertex).sphere for r in (refraction, goal))
    found = follow_up.second_lens_holladay1993(follow_up.net_power(k), now, wanted, position)
    assert found == pytest.approx(printed, abs=0.005)


def test_the_power_from_the_refraction_is_the_vergence_formula_without_the_length():
    """An eye of any length: the lens for the goal minus the lens that leaves the refraction (general optics)."""
    net, position = follow_up.net_power(np.array([42.0, 48.0, 56.0])), 5.1
    for length in (21.0, 24.0, 29.0):
        powers = [vergence.lens_power(net, length, position, r, 0.0) for r in (-1.0, 2.5)]
        added = follow_up.second_lens_holladay1993(net, 2.5, -1.0, position)
        np.testing.assert_allclose(powers[0] - powers[1], added, rtol=1e-12)


@pytest.mark.parametrize("power", [-8.0, 6.0, 21.5, 34.0])
def test_positions_in_focus_are_where_the_vergence_formula_says(power):
    """Put back into the vergence of thin lenses, a root has no refraction left (general optics)."""
    length, position = 23.5, 5.2
    behind = 44.0 + vergence.refraction(44.0, length, position, power, 0.0)
    roots = follow_up.positions_in_focus(behind, length, power)
    assert np.min(np.abs(roots - position)) < 1e-9
    assert np.all(np.isnan(follow_up.positions_in_focus(behind, length, 0.0)))


def test_sphere_and_cylinder_move_to_the_cornea_by_meridian():
    """+3.50 -7.00 x 135 at 12 mm: 3.5/(1 - 0.042) along 135 and -3.5/(1 + 0.042) along 45 (definition)."""
    matrix = follow_up.correction_at_cornea(3.5, -7.0, 135.0, 12.0)
    along = np.array([np.cos(np.radians(135)), np.sin(np.radians(135))])
    across = np.array([np.cos(np.radians(45)), np.sin(np.radians(45))])
    assert along @ matrix @ along == pytest.approx(3.5 / (1 - 0.042))
    assert across @ matrix @ across == pytest.approx(-3.5 / (1 + 0.042))
