"""Sheet of the cylinder, first part: the astigmatism of every source as a vector, and the one in force.

Another method: complex numbers, power matrices and vergence matrices (astigmatism, vectors), where the cells reckon X
and Y apart by cosines and sines.
An echo: the cylinders, and the source in force by comparisons, as the cells compute them.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import astigmatism, vectors
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.keratometry import back_power, front_power, radius_of_k
from builder.planner.reference.plan.cells import Array, EyeValues, Values, at_number, by_rule, flag, select, there

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


def _parts(vector: np.ndarray) -> tuple[Array, Array]:
    absent = np.isnan(vector)
    return np.where(absent, np.nan, vector.real), np.where(absent, np.nan, vector.imag)


def _half_angle(vector: np.ndarray) -> Array:
    """Half the angle of a double-angle vector, degrees, not folded; NaN where there is no axis."""
    return np.where(np.abs(vector) < CONSTANTS.axis_free, np.nan, np.degrees(np.angle(vector)) / 2)


def sources(values: Values, words: Words) -> None:
    """The astigmatism of every source as a vector, and the source in force."""
    eye = EyeValues(values)
    w = words.get
    front_cylinder = eye.front_steep_power - eye.front_flat_power
    found = {key: _measured(values, key) for key in ("zone3", "ring", "zone4", "second")}
    for key in ("total3", "total4"):
        found[key] = _measured(values, key, "")
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
    found["refraction"] = vectors.double_angle(at_cornea[1] - at_cornea[0], eye.refraction_axis)
    cylinders = {
        key: values.get("eyes", f"{key}_steep{power}") - values.get("eyes", f"{key}_flat{power}")
        for keys, power in ((("zone3", "ring", "zone4", "second"), "_power"), (("total3", "total4"), ""))
        for key in keys
    }
    back = back_power(eye.back_flat_radius) - back_power(eye.back_steep_radius)
    cylinders |= {"front_and_back": back, "refraction": eye.refraction_cylinder}
    from_zone = eye.front_source == w("choice", "zone3")
    front = _parts(np.where(from_zone, found["zone3"], np.where(there(eye.front_source), found["ring"], np.nan)))
    table = np.stack([np.where(np.isnan(found[key]), np.nan, found[key]) for key in SOURCES], axis=-1)
    x, y = _parts(table)
    size = np.where(np.isnan(table), np.nan, np.abs(table))
    axes = vectors.magnitude_and_axis(table).axis
    base_x, base_y = _parts(start)
    typed = there(eye.astigmatism_source)
    cases: list[tuple[Any, Any]] = [(typed, eye.astigmatism_source)]
    cases += [
        (there(x[..., SOURCES.index(key)]), w("choice", key))
        for key in ("total3", "front_and_back", "regression", "zone3", "ring")
    ]
    used = select(cases)
    from_front_alone = np.isin(used, [w("choice", "zone3"), w("choice", "ring")])
    irregular = there(eye.corneal_diagnosis) & (eye.corneal_diagnosis != w("choice", "regular"))
    place = by_rule(used, {w("choice", key): np.full(used.shape, n + 1.0) for n, key in enumerate(SOURCES[:5])})
    chosen = at_number(table, place)
    cornea = vectors.magnitude_and_axis(chosen)
    cx, cy = _parts(chosen)
    rx, ry = _parts(found["regression"])
    values.put(
        "sources",
        source_there=flag(there(x)),
        source_x=x,
        source_y=y,
        source_cylinder=size,
        source_steep=_steep(values, cylinders),
        source_axis=axes,
        source_distance=np.where(np.isnan(table), np.nan, np.abs(table - chosen[..., None])),
    )
    values.put(
        "eyes",
        back_cylinder=back,
        front_x=front[0],
        front_y=front[1],
        front_scale=np.full(used.shape, float(front_power(radius_of_k(1.0)))),
        refraction_second_meridian=eye.refraction_sphere + eye.refraction_cylinder,
        refraction_sphere_at_cornea=at_cornea[0],
        refraction_second_at_cornea=at_cornea[1],
        cornea_regular=flag(eye.corneal_diagnosis == w("choice", "regular")),
        regression_x=rx,
        regression_y=ry,
        source_by_hand=flag(typed),
        source_used=used,
        source_in_front=flag(from_front_alone),
        back_unmeasured=flag(from_front_alone & irregular),
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


def _measured(values: Values, key: str, power: str = "_power") -> np.ndarray:
    """The vector of a source; a sphere needs no axis."""
    flat, steep = (values.get("eyes", f"{key}_{end}{power}") for end in ("flat", "steep"))
    return astigmatism.corneal_astigmatism(flat, steep, values.get("eyes", f"{key}_steep_axis"))


def _steep(values: Values, found: dict[str, Array]) -> Array:
    """The meridian that each source is turned to, in their order; 0 of a sphere without one."""
    axes: list[Array] = []
    for key in SOURCES:
        axis_of = {"front_and_back": "back_steep_axis", "refraction": "refraction_axis"}.get(key, f"{key}_steep_axis")
        axis = values.get("eyes", axis_of) if key in found else np.full_like(found["ring"], np.nan)
        sphere = np.abs(found.get(key, np.full_like(axis, np.nan))) < CONSTANTS.rounding_slack
        axes.append(np.where(there(axis), axis, np.where(sphere, 0.0, np.nan)))
    return np.stack(axes, axis=-1)
