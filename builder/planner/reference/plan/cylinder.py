"""Sheet of the cylinder, second part: what each cylinder of the lens leaves, the chosen one, rotations.

Another method: power matrices and iteration (trace, toric), where the cells have closed forms; what a rigid lens leaves
by complex numbers, where they take roots of squares.
An echo: the order of the cylinders, the choice among them and the notation as the cells compute them.
"""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words
from builder.planner.reference import toric, vectors
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import EyeValues, Values, at_number, there
from builder.planner.reference.plan.trace import Trace, trace

CYLINDERS = 12
TURNED = 10.0  # degrees by which the cylinders around the choice are tried off their axis


def options(values: Values, words: Words) -> None:
    """What each cylinder of the lens leaves, the chosen one, and what is left when it lies off its axis."""
    eye = EyeValues(values)
    w = words.get
    light = 1000 * CONSTANTS.index_aqueous
    front = eye.lead_vergence_needed - eye.lens_power
    over_index = eye.lead_position / light
    factor = 1 + over_index * front
    ideal = toric.ideal_cylinder_famlim2007(
        eye.total_cylinder, eye.lens_power, eye.lead_optical_length, eye.lead_position
    )
    values.put(
        "eyes",
        ratio_for_small_cylinder=factor**2,
        ideal_cylinder=ideal,
    )
    at = np.nan_to_num(eye.lens_place, nan=1).astype(int) - 1
    table = np.stack([values.get("lenses", f"lens_cylinder{k}") for k in range(1, CYLINDERS + 1)], axis=-1)
    is_toric = (eye.chosen_kind == w("choice", "toric"))[..., None]
    listed = np.where(is_toric, np.take_along_axis(table, at[..., None], axis=1), np.nan)
    none = np.where(there(eye.lens_place), 0.0, np.nan)[..., None]
    offered = np.concatenate([none, listed], axis=-1)
    cylinders = np.sort(offered, axis=-1)  # NaN goes last
    exact_steep = np.where(eye.total_cylinder == 0, 0.0, np.degrees(np.angle(eye.total_x + 1j * eye.total_y)) / 2)
    rows = (eye.lead_cornea, eye.total_cylinder, exact_steep, eye.lens_power, eye.lead_optical_length)
    seen = Trace(*(row[..., None] for row in (*rows, eye.lead_position)))
    marks = np.concatenate([none * 0, np.broadcast_to(eye.total_half_angle[..., None], listed.shape)], axis=-1)
    trace(values, "options", seen, cylinders, marks)
    effect, sphere, left, axis = (
        values.get("options", f"trace_{key}") for key in ("effect", "sphere", "cylinder_left", "axis_left")
    )
    by_least = eye.cylinder_rule == w("choice", "smallest_residual")
    choice = toric.choose_cylinder(cylinders, effect, left, eye.total_cylinder, by_least)
    cylinder, smallest = choice.chosen, choice.least_left
    values.put(
        "options",
        option_offered=offered,
        option_cylinder=cylinders,
        option_sphere=sphere,
        option_left=left,
        option_axis=axis,
    )
    match = cylinders == cylinder[..., None]
    number = np.where(there(cylinder) & match.any(axis=-1), match.argmax(axis=-1) + 1.0, np.nan)
    chosen = {key: at_number(values.get("options", f"option_{key}"), number) for key in ("sphere", "left", "axis")}
    notation = np.broadcast_to(values.get("plan", "cylinder_notation")[:, None], cylinder.shape)
    plus, known = notation == w("choice", "plus"), there(notation)
    strongest = np.fmax.reduce(cylinders, axis=-1)
    beside = np.stack([np.minimum(number, 1.0), number - 1, number, number + 1], axis=-1)
    beside[..., 1] = np.where(beside[..., 1] > 1, beside[..., 1], np.nan)
    beside = np.where(beside <= there(cylinders).sum(axis=-1)[..., None], beside, np.nan)
    index = np.nan_to_num(beside, nan=1).astype(int) - 1
    near = np.where(there(beside), np.take_along_axis(cylinders, index, axis=-1), np.nan)
    off_axis = eye.total_half_angle[..., None] + np.where(np.arange(4) > 0, TURNED, np.nan)
    trace(values, "near", seen, near, np.where(np.arange(4) > 0, off_axis, 0.0))
    _under_a_rigid_lens(values, index, there(beside))
    values.put(
        "eyes",
        lens_cylinder=cylinder,
        option_chosen=number,
        option_number=number - 1,
        lens_cylinder_at_cornea=at_number(effect, number),
        marks_axis=np.where(cylinder > 0, eye.total_axis, np.nan),
        predicted_sphere=chosen["sphere"],
        predicted_cylinder=chosen["left"],
        predicted_axis=chosen["axis"],
        written_sphere=chosen["sphere"] + np.where(plus, chosen["left"], 0 * chosen["left"]),
        written_cylinder=np.where(known, np.where(plus, -chosen["left"], chosen["left"]), np.nan),
        written_axis=np.where(known, np.where(plus, vectors.fold_axis(chosen["axis"] + 90), chosen["axis"]), np.nan),
        strongest_cylinder=np.where(there(smallest), strongest, np.nan),
        lens_beside_strongest=np.where(there(cylinders[..., 1]), strongest, np.nan),
    )
    turns = toric.ROTATION_STEPS.astype(float)
    turned = np.where((cylinder > 0)[..., None], cylinder[..., None] + 0 * turns, np.nan)
    trace(values, "rotations", seen, turned, eye.total_half_angle[..., None] + turns)
    values.put("rotations", rotated_left=values.get("rotations", "trace_cylinder_left"))


def _under_a_rigid_lens(values: Values, at: NDArray[np.int_], offered: NDArray[np.bool_]) -> None:
    """The cylinder (D, at the cornea) that a spherical rigid lens leaves over each cylinder near the choice.

    The tears behind it take the place of the front surface: the front's vector, and the incision's, as far as tears of
    the index of the aqueous mask it. `at`: places of the cylinders among those offered; `offered`: where there is one.
    """
    eye = EyeValues(values)
    get = partial(values.get, "options")
    straight, oblique = (
        np.where(offered, np.take_along_axis(get(f"trace_{way}"), at, axis=-1), np.nan)
        for way in ("straight", "oblique")
    )
    tears = (CONSTANTS.index_aqueous - 1) / (CONSTANTS.keratometric_index - 1)
    front = eye.front_x + eye.total_x - eye.cornea_x + 1j * (eye.front_y + eye.total_y - eye.cornea_y)
    masked = tears * front
    values.put("near", near_rigid=-np.abs(2 * (straight + 1j * oblique) + masked[..., None]))
