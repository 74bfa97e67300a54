"""The trace of light through a toric lens: what a lens cylinder at its marks leaves.

Another method: power matrices and their eigenvalues, where the cells have each meridian by itself in closed form.
An echo: trace_along and trace_across, sums as the cells compute them.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from builder.planner.reference import toric, vectors
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
    light = 1000 * CONSTANTS.index_aqueous
    marks = np.where(there(lens_cylinder), marks, np.nan)
    front = light / (eye.length - eye.position) - eye.lens
    along, across = front + lens_cylinder / 2, front - lens_cylinder / 2
    before = vectors.matrix_of_power_vector((along + across) / 2, (along - across) / 2, np.zeros(along.shape))
    arrived = vectors.propagate(np.where((across > 0)[..., None, None], before, np.nan), -eye.position / light)
    known = there(marks) & there(lens_cylinder)
    asked = np.where(known, lens_cylinder, np.nan)
    found = toric.refraction_toric_langenbucher2004(
        eye.cornea, eye.cylinder, eye.steep, eye.lens, asked, marks, eye.length, eye.position
    )
    at_cornea, worn = found.cornea, found.spectacles
    minus = at_cornea.sphere + at_cornea.cylinder
    possible = 1 + CONSTANTS.vertex_of_formulas * minus / 1000 > 0
    mean = np.trace(arrived, axis1=-2, axis2=-1) / 2 - eye.cornea
    mean = np.where(there(at_cornea.mean), at_cornea.mean, mean)
    effect = toric.effect_at_cornea_famlim2007(eye.lens, lens_cylinder, eye.length, eye.position)
    values.put(
        list_name,
        trace_cylinder=lens_cylinder,
        trace_marks=marks,
        trace_along=along,
        trace_across=across,
        along_at_cornea=arrived[..., 0, 0],
        across_at_cornea=arrived[..., 1, 1],
        trace_effect=effect,
        trace_mean=mean,
        trace_straight=at_cornea.j0,
        trace_oblique=at_cornea.j45,
        trace_size=-at_cornea.cylinder / 2,
        trace_plus_meridian=at_cornea.sphere,
        trace_minus_meridian=minus,
        trace_sphere=np.where(possible, worn.sphere, np.nan),
        trace_cylinder_left=np.where(possible, worn.cylinder, np.nan),
        trace_axis_left=np.where(possible, worn.axis, np.nan),
    )
