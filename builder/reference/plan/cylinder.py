"""Sheets of the cylinder and its workings:
vectors of the sources, what each cylinder leaves, the chosen one, rotations."""

from __future__ import annotations

from functools import partial
from typing import Any, NamedTuple

import numpy as np

from builder.reference import astigmatism, toric, vectors
from builder.reference.constants import CONSTANTS
from builder.reference.keratometry import back_power, front_power, radius_of_k
from builder.reference.plan.cells import Array, EyeValues, Values, by_rule, select, there
from builder.spec.words import Words

SOURCES = (
    "total3",
    "front_and_back",
    "zone3",
    "ring",
    "regression",
    "zone4",
    "second",
    "total4",
    "map_ring",
    "refraction",
)
CYLINDERS = 12
SLACK = CONSTANTS.rounding_slack


def _half_angle(vector: np.ndarray) -> Array:
    """Half the angle of a double-angle vector, degrees, not folded; NaN where there is no axis."""
    return np.where(np.abs(vector) < CONSTANTS.axis_free_below, np.nan, np.degrees(np.angle(vector)) / 2)


def _parts(vector: np.ndarray) -> tuple[Array, Array]:
    absent = np.isnan(vector)
    return np.where(absent, np.nan, vector.real), np.where(absent, np.nan, vector.imag)


def sources(values: Values, words: Words) -> None:
    """The astigmatism of every source as a vector, and the source in force."""
    eye = EyeValues(values)
    w = words.get
    front_cylinder = eye.front_steep_power - eye.front_flat_power
    found = {key: _measured(values, key) for key in ("zone3", "ring", "zone4", "second")}
    for key in ("total3", "total4"):
        found[key] = astigmatism.corneal_astigmatism(
            *(values.get("eyes", f"{key}_{end}") for end in ("flat", "steep", "steep_axis"))
        )
    found["front_and_back"] = astigmatism.front_and_back_astigmatism(
        front_cylinder, eye.front_steep_axis, eye.back_flat_radius, eye.back_steep_radius, eye.back_steep_axis
    )
    base = select([((eye.corneal_diagnosis == w("choice", "regular")), eye.front_source)])
    from_front = {w("choice", key): found[key] for key in ("zone3", "ring")}
    start = np.where(
        base == w("choice", "zone3"),
        from_front[w("choice", "zone3")],
        np.where(base == w("choice", "ring"), from_front[w("choice", "ring")], np.nan),
    )
    found["regression"] = astigmatism.regression_abulafia2016(start)
    at_cornea = [
        vectors.spectacle_to_cornea(f, 0.0, 0.0, eye.refraction_vertex).sphere
        for f in (eye.refraction_sphere, eye.refraction_sphere + eye.refraction_cylinder)
    ]
    found["map_ring"] = 2 * (
        values.get("rings", "cosine_wave_twice")[..., 2] + 1j * values.get("rings", "sine_wave_twice")[..., 2]
    )
    # The cylinder corrects the eye, so it is strongest, with its sign, where the eye is weakest.
    axis = there(eye.refraction_axis)
    found["refraction"] = np.where(
        axis, (at_cornea[1] - at_cornea[0]) * np.exp(2j * np.radians(eye.refraction_axis)), np.nan
    )
    table = np.stack([np.where(np.isnan(found[key]), np.nan, found[key]) for key in SOURCES], axis=-1)
    x, y = _parts(table)
    size = np.where(np.isnan(table), np.nan, np.abs(table))
    axes = vectors.magnitude_and_axis(table).axis
    base_x, base_y = _parts(start)
    typed = there(eye.astigmatism_source)
    cases: list[tuple[Any, Any]] = [(typed, eye.astigmatism_source)]
    cases += [
        (there(x[..., SOURCES.index(key)]), w("choice", key)) for key in ("total3", "front_and_back", "zone3", "ring")
    ]
    used = select(cases)
    said = select([(~there(used), ""), (typed, w("word", "rule_chosen"))], w("word", "source_default"))
    place = by_rule(used, {w("choice", key): np.full(used.shape, n + 1.0) for n, key in enumerate(SOURCES[:5])})
    at = np.where(np.isnan(place), 0, place - 1).astype(int)
    chosen = np.where(np.isnan(place), np.nan, np.take_along_axis(table, at[..., None], axis=-1)[..., 0])
    cornea = vectors.magnitude_and_axis(chosen)
    cx, cy = _parts(chosen)
    rx, ry = _parts(found["regression"])
    values.put(
        "sources",
        source_x=x,
        source_y=y,
        source_cylinder=size,
        source_axis=axes,
        source_distance=np.where(np.isnan(table), np.nan, np.abs(table - chosen[..., None])),
    )
    values.put(
        "eyes",
        back_cylinder=back_power(eye.back_flat_radius) - back_power(eye.back_steep_radius),
        front_scale=np.full(used.shape, float(front_power(radius_of_k(1.0)))),
        refraction_second_meridian=eye.refraction_sphere + eye.refraction_cylinder,
        refraction_sphere_at_cornea=at_cornea[0],
        refraction_second_at_cornea=at_cornea[1],
        regression_base=base,
        regression_base_x=base_x,
        regression_base_y=base_y,
        regression_x=rx,
        regression_y=ry,
        source_used=used,
        source_said=said,
        source_place=place,
        cornea_x=cx,
        cornea_y=cy,
        cornea_cylinder=np.where(np.isnan(cx), np.nan, cornea.magnitude),
        cornea_axis=cornea.axis,
        **with_incision(chosen, eye.incision_meridian, eye.incision_sia),
    )


def with_incision(vector: np.ndarray, meridian: Array, effect: Array) -> dict[str, Array]:
    """The rows of what is to be corrected: a corneal vector (D) after an incision (degrees) of this effect (D)."""
    after = astigmatism.after_incision(vector, meridian, effect)
    total = vectors.magnitude_and_axis(after)
    x, y = _parts(after)
    return {
        "total_x": x,
        "total_y": y,
        "total_cylinder": np.where(np.isnan(x), np.nan, total.magnitude),
        "total_half_angle": _half_angle(after),
        "total_axis": vectors.fold_axis(np.round(total.axis, 6)),  # as the cells round it before folding
    }


def _measured(values: Values, key: str) -> np.ndarray:
    flat, steep = (values.get("eyes", f"{key}_{end}_power") for end in ("flat", "steep"))
    axis = values.get("eyes", f"{key}_steep_axis")
    return np.where(there(axis), astigmatism.corneal_astigmatism(flat, steep, axis), np.nan)


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
    smallest = -np.fmax.reduce(left, axis=-1)
    smallest = np.where(there(left[..., 0]), smallest, np.nan)
    without_flip = np.where(effect <= eye.total_cylinder[..., None] + SLACK, cylinders, np.nan)
    least = np.where(-left <= smallest[..., None] + SLACK, cylinders, np.nan)
    values.put(
        "options",
        option_offered=offered,
        option_cylinder=cylinders,
        option_effect=effect,
        option_sphere=get("trace_sphere"),
        option_left=left,
        option_axis=get("trace_axis_left"),
        option_without_flip=without_flip,
        option_smallest=least,
    )
    by_least = eye.cylinder_rule == w("choice", "smallest_residual")
    # MAX and MIN of nothing are 0 in a spreadsheet: no cylinder fits, so none is taken.
    strongest_fit: Array = np.fmax.reduce(without_flip, axis=-1)
    weakest_least: Array = np.fmin.reduce(least, axis=-1)
    cylinder = np.where(by_least, weakest_least, strongest_fit)
    cylinder = np.where(there(smallest), np.where(np.isnan(cylinder), 0.0, cylinder), np.nan)
    match = cylinders == cylinder[..., None]
    number = np.where(there(cylinder) & match.any(axis=-1), match.argmax(axis=-1) + 1.0, np.nan)

    def of_chosen(row: Array) -> Array:
        place = np.where(np.isnan(number), 0, number - 1).astype(int)
        return np.where(np.isnan(number), np.nan, np.take_along_axis(row, place[..., None], axis=-1)[..., 0])

    sphere, cyl, axis = of_chosen(get("trace_sphere")), of_chosen(left), of_chosen(get("trace_axis_left"))
    notation = np.broadcast_to(values.get("plan", "cylinder_notation")[:, None], cylinder.shape)
    plus, known = notation == w("choice", "plus"), there(notation)
    strongest = np.where(there(smallest), np.fmax.reduce(cylinders, axis=-1), np.nan)
    short = (strongest < ideal) & (cylinder == strongest)
    said = select(
        [
            (~(there(cylinder) & there(ideal)), ""),
            (~is_toric[..., 0], w("word", "lens_not_toric")),
            (cylinder == 0, w("word", "no_cylinder_helps")),
            (short, w("word", "strongest_falls_short")),
        ],
        w("word", "cylinder_chosen"),
    )
    marks_axis = np.where(cylinder > 0, eye.total_axis, np.nan)
    values.put(
        "eyes",
        smallest_left=smallest,
        lens_cylinder=cylinder,
        option_chosen=number,
        lens_cylinder_at_cornea=of_chosen(effect),
        marks_axis=marks_axis,
        predicted_sphere=sphere,
        predicted_cylinder=cyl,
        predicted_axis=axis,
        written_sphere=np.where(there(cyl), np.where(plus, sphere + cyl, sphere), np.nan),
        written_cylinder=np.where(known, np.where(plus, -cyl, cyl), np.nan),
        written_axis=np.where(known, np.where(plus, vectors.fold_axis(axis + 90), axis), np.nan),
        strongest_cylinder=strongest,
        cylinder_said=said,
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
