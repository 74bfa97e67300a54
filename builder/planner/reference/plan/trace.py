"""The trace of light through a toric lens: what a lens cylinder at its marks leaves.

Another method: power matrices and their eigenvalues, where the cells have each meridian by itself in closed form.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from builder.planner.reference import toric
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, Values, there


class Trace(NamedTuple):
    """The eye as the trace needs it, each (n, 2, 1) for the patient."""

    cornea: Array
    cylinder: Array
    steep: Array
    lens: Array
    length: Array
    position: Array


def trace(values: Values, list_name: str, eye: Trace, lens_cylinder: Array, marks: Array) -> None:
    """The rows of the trace for lens cylinders and marks, of the shape of the eye or one that it broadcasts to."""
    marked = np.where(there(marks), lens_cylinder, np.nan)  # the cells want marks of a cylinder of 0 too
    found = toric.refraction_toric_langenbucher2004(
        eye.cornea, eye.cylinder, eye.steep, eye.lens, marked, marks, eye.length, eye.position
    )
    at_cornea, worn = found.cornea, found.spectacles
    wanted = toric.vergence_at_cornea(eye.lens, lens_cylinder, 0.0, eye.length, eye.position)  # no marks change a mean
    possible = 1 + CONSTANTS.vertex_of_formulas * (at_cornea.sphere + at_cornea.cylinder) / 1000 > 0
    values.put(
        list_name,
        trace_effect=toric.effect_at_cornea_famlim2007(eye.lens, lens_cylinder, eye.length, eye.position),
        trace_mean=np.trace(wanted, axis1=-2, axis2=-1) / 2 - eye.cornea,
        trace_straight=at_cornea.j0,
        trace_oblique=at_cornea.j45,
        trace_sphere=np.where(possible, worn.sphere, np.nan),
        trace_cylinder_left=np.where(possible, worn.cylinder, np.nan),
        trace_axis_left=np.where(possible, worn.axis, np.nan),
    )
