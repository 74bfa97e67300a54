"""The reference against a general-purpose paraxial optics library (package raytracing, ABCD matrices, mm).

The library knows surfaces, gaps and lenses, nothing of eyes. Its matrices act on (height, angle), so a system's power
in D is -1000 C times the index behind it.
"""

import numpy as np
import pytest
from raytracing import DielectricInterface, Lens, MatrixGroup, Space

from builder.planner.reference import keratometry, lens_position, toric, vergence
from builder.planner.reference.constants import CONSTANTS

AQUEOUS = CONSTANTS.index_aqueous
GLASS = 1.55


def surface(power, before, after):
    """One surface of a power in D."""
    return DielectricInterface(n1=before, n2=after, R=1000 * (after - before) / power if power else float("inf"))


def eye(spectacles, vertex, cornea, position, lens, length):
    """Spectacles, air, cornea, aqueous, a lens of two equal surfaces in contact, aqueous to the retina."""
    return MatrixGroup(
        [
            Lens(f=1000 / spectacles if spectacles else float("inf")),
            Space(d=vertex),
            surface(cornea, 1.0, AQUEOUS),
            Space(d=position, n=AQUEOUS),
            surface(lens / 2, AQUEOUS, GLASS),
            surface(lens / 2, GLASS, AQUEOUS),
            Space(d=length - position, n=AQUEOUS),
        ]
    )


def height_at_retina(*parts):
    """Where a parallel ray at height 1 ends, in units of its height: 0 is in focus (A of the system)."""
    return eye(*(float(part) for part in parts)).A


@pytest.mark.parametrize(("front", "back", "thickness"), [(7.7, 6.8, 0.5), (7.0, 5.3, 0.45), (5.6, 3.9, 0.38)])
def test_thick_cornea(front, back, thickness):
    """Equivalent power of a thick cornea, normal to cone."""
    cornea = MatrixGroup(
        [
            DielectricInterface(n1=1.0, n2=CONSTANTS.index_cornea, R=front),
            Space(d=thickness, n=CONSTANTS.index_cornea),
            DielectricInterface(n1=CONSTANTS.index_cornea, n2=AQUEOUS, R=back),
        ]
    )
    power = keratometry.gaussian_power_gullstrand(front, back, thickness)
    assert power == pytest.approx(-1000 * cornea.C * AQUEOUS, abs=1e-10)


@pytest.mark.parametrize("formula", vergence.FORMULAS)
@pytest.mark.parametrize("goal", [-4.0, -0.5, 0.0, 1.5])
@pytest.mark.parametrize(("axial_length", "k"), [(21.5, 47.0), (23.5, 44.0), (25.5, 52.0), (28.0, 38.0)])
def test_goal_power_focuses_on_the_retina(formula, goal, axial_length, k):
    """Light through the goal spectacles and the goal power ends on the axis; 0.01 D more lens misses."""
    cornea, length = vergence.corneal_power(formula, k), vergence.optical_length(formula, axial_length)
    position = lens_position.position_haigis2000(axial_length, 3.3, lens_position.a0_haigis2000(118.5)).position
    power = vergence.lens_power(cornea, length, position, goal)
    in_focus = height_at_retina(goal, 12.0, cornea, position, power, length)
    assert in_focus == pytest.approx(0.0, abs=1e-12)
    assert abs(height_at_retina(goal, 12.0, cornea, position, power + 0.01, length)) > 1e-5


def test_predicted_refraction_focuses_on_the_retina():
    """Spectacles of the predicted refraction bring light to the retina, for lenses far too weak and too strong."""
    for power in (5.0, 15.0, 21.0, 30.0):
        spectacles = vergence.refraction(44.0, 23.5, 5.2, power)
        assert height_at_retina(spectacles, 12.0, 44.0, 5.2, power, 23.5) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("steep", [15.0, 90.0, 180.0])
@pytest.mark.parametrize(("cylinder", "lens_cylinder"), [(3.0, 0.0), (3.0, 2.25), (6.5, 7.0), (0.0, 3.0)])
def test_sphere_and_cylinder_focus_in_both_meridians(steep, cylinder, lens_cylinder):
    """With the marks on the steep meridian the eye is two eyes, one along it and one across, each with its own light.

    Along the steep meridian cornea Kc + C/2 meets lens SE - T/2; the trace's principal spectacle powers focus both.
    """
    cornea, lens, length, position = 47.0, 17.5, 24.1, 5.4
    found = toric.refraction_toric_langenbucher2004(
        cornea, cylinder, steep, lens, lens_cylinder, steep, length, position
    ).spectacles
    double = np.deg2rad(2 * steep)
    crossed = found.j0 * np.cos(double) + found.j45 * np.sin(double)
    along = height_at_retina(
        found.mean + crossed, 12.0, cornea + cylinder / 2, position, lens - lens_cylinder / 2, length
    )
    across = height_at_retina(
        found.mean - crossed, 12.0, cornea - cylinder / 2, position, lens + lens_cylinder / 2, length
    )
    assert along == pytest.approx(0.0, abs=1e-12)
    assert across == pytest.approx(0.0, abs=1e-12)
    assert abs(crossed) > 0.05
