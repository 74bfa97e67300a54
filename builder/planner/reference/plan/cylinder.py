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
        vergence_in_front=front,
        position_over_index=over_index,
        cornea_to_lens_factor=factor,
        ratio_for_small_cylinder=factor**2,
        ideal_cylinder=ideal,
    )
    at = np.where(np.isnan(eye.lens_place), 0, eye.lens_place - 1).astype(int)
    table = np.stack([values.get("lenses", f"lens_cylinder{k}") for k in range(1, CYLINDERS + 1)], axis=-1)
    mine = np.take_along_axis(table, at[..., None], axis=1)
    chosen_lens = there(eye.lens_place)[..., None]
    is_toric = (eye.chosen_kind == w("choice", "toric"))[..., None]
    listed = np.where(chosen_lens & is_toric, mine, np.nan)
    none = np.where(chosen_lens, 0.0, np.nan)
    offered = np.concatenate([none, listed], axis=-1)
    cylinders = np.sort(offered, axis=-1)  # NaN goes last
    exact_steep = np.where(eye.total_cylinder == 0, 0.0, np.degrees(np.angle(eye.total_x + 1j * eye.total_y)) / 2)
    seen = Trace(
        *(
            row[..., None]
            for row in (
                eye.lead_cornea,
                eye.total_cylinder,
                exact_steep,
                eye.lens_power,
                eye.lead_optical_length,
                eye.lead_position,
            )
        )
    )
    marks = np.concatenate([none * 0, np.broadcast_to(eye.total_half_angle[..., None], listed.shape)], axis=-1)
    trace(values, "options", seen, cylinders, marks)
    get = partial(values.get, "options")
    effect, left = get("trace_effect"), get("trace_cylinder_left")
    by_least = eye.cylinder_rule == w("choice", "smallest_residual")
    choice = toric.choose_cylinder(cylinders, effect, left, eye.total_cylinder, by_least)
    cylinder, smallest = choice.chosen, choice.least_left
    values.put(
        "options",
        option_offered=offered,
        option_cylinder=cylinders,
        option_effect=effect,
        option_sphere=get("trace_sphere"),
        option_left=left,
        option_axis=get("trace_axis_left"),
        option_without_flip=choice.without_flip,
        option_smallest=choice.least,
    )
    offers_any = there(cylinders[..., 1])
    values.put("eyes", lens_beside_strongest=np.where(offers_any, np.fmax.reduce(cylinders, axis=-1), np.nan))
    match = cylinders == cylinder[..., None]
    number = np.where(there(cylinder) & match.any(axis=-1), match.argmax(axis=-1) + 1.0, np.nan)

    sphere, cyl, axis = (at_number(row, number) for row in (get("trace_sphere"), left, get("trace_axis_left")))
    notation = np.broadcast_to(values.get("plan", "cylinder_notation")[:, None], cylinder.shape)
    plus, known = notation == w("choice", "plus"), there(notation)
    strongest = np.where(there(smallest), np.fmax.reduce(cylinders, axis=-1), np.nan)
    marks_axis = np.where(cylinder > 0, eye.total_axis, np.nan)
    beside = np.stack([np.fmin(number, 1.0), number - 1, number, number + 1], axis=-1)
    beside = np.where([True, False, True, True], beside, np.where(beside > 1, beside, np.nan))
    beside = np.where(beside <= there(cylinders).sum(axis=-1)[..., None], beside, np.nan)
    beside = np.where(there(number)[..., None], beside, np.nan)
    index = np.where(there(beside), beside - 1, 0).astype(int)
    near = np.where(there(beside), np.take_along_axis(cylinders, index, axis=-1), np.nan)
    off_axis = eye.total_half_angle[..., None] + np.where(np.arange(4) > 0, TURNED, np.nan)
    trace(values, "near", seen, near, np.where(np.arange(4) > 0, off_axis, 0.0))
    values.put("near", near_place=beside)
    _under_a_rigid_lens(values, index, there(beside))
    values.put(
        "eyes",
        smallest_left=smallest,
        lens_cylinder=cylinder,
        option_chosen=number,
        option_number=number - 1,
        lens_cylinder_at_cornea=at_number(effect, number),
        marks_axis=marks_axis,
        predicted_sphere=sphere,
        predicted_cylinder=cyl,
        predicted_axis=axis,
        written_sphere=np.where(there(cyl), np.where(plus, sphere + cyl, sphere), np.nan),
        written_cylinder=np.where(known, np.where(plus, -cyl, cyl), np.nan),
        written_axis=np.where(known, np.where(plus, vectors.fold_axis(axis + 90), axis), np.nan),
        strongest_cylinder=strongest,
    )
    turns = toric.ROTATION_STEPS.astype(float)
    turned = np.where(
        (cylinder > 0)[..., None], np.broadcast_to(cylinder[..., None], cylinder.shape + turns.shape), np.nan
    )
    trace(values, "rotations", seen, turned, eye.total_half_angle[..., None] + turns)
    values.put(
        "rotations",
        rotated_sphere=values.get("rotations", "trace_sphere"),
        rotated_left=values.get("rotations", "trace_cylinder_left"),
        rotated_axis=values.get("rotations", "trace_axis_left"),
    )


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
    values.put("near", near_straight=straight, near_oblique=oblique)
    values.put("near", near_rigid=-np.abs(2 * (straight + 1j * oblique) + masked[..., None]))
    values.put("eyes", tears_scale=np.full(front.shape, tears), masked_x=masked.real, masked_y=masked.imag)
