"""Sheet of the cylinder, first part: the astigmatism of every source as a vector, and the one in force.

Another method: complex numbers, power matrices and vergence matrices (astigmatism, vectors), where the cells reckon X
and Y apart by cosines and sines.
An echo: the source in force, by comparisons as the cells compute it.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import astigmatism, vectors
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, at_number, flag, place_of, there

OFFERED = ("total3", "front_and_back", "zone3", "ring", "regression")
SOURCES = (*OFFERED, "zone4", "second", "total4", "map_ring", "refraction")
FIRST = ("total3", "front_and_back", "regression", "zone3", "ring")  # of these, in this order, if none is chosen
READ = {"zone3": "_power", "ring": "_power", "zone4": "_power", "second": "_power", "total3": "", "total4": ""}


def _parts(vector: np.ndarray) -> tuple[Array, Array]:
    absent = np.isnan(vector)
    return np.where(absent, np.nan, vector.real), np.where(absent, np.nan, vector.imag)


def _half_angle(vector: np.ndarray) -> Array:
    """Half the angle of a double-angle vector, degrees, not folded; NaN where there is no axis."""
    return np.where(np.abs(vector) < CONSTANTS.axis_free, np.nan, np.degrees(np.angle(vector)) / 2)


def sources(values: Values, words: Words) -> None:
    """The astigmatism of every source as a vector, and the source in force."""
    eye, w = EyeValues(values), words.get
    regular = eye.corneal_diagnosis == w("choice", "regular")
    worn = [
        vectors.spectacle_to_cornea(power, 0.0, 0.0, eye.refraction_vertex).sphere
        for power in (eye.refraction_sphere, eye.refraction_sphere + eye.refraction_cylinder)
    ]
    found = {}
    for key, power in READ.items():
        flat, steep = (values.get("eyes", f"{key}_{end}{power}") for end in ("flat", "steep"))
        found[key] = astigmatism.corneal_astigmatism(flat, steep, values.get("eyes", f"{key}_steep_axis"))
    front = np.where(eye.ring_paired == 1, found["ring"], np.nan)
    front = np.where(eye.zone3_paired == 1, found["zone3"], front)
    waves = [values.get("rings", f"{part}_wave_twice")[..., 2] for part in ("cosine", "sine")]
    found |= {
        "front_and_back": astigmatism.front_and_back_astigmatism(
            eye.front_steep_power - eye.front_flat_power,
            eye.front_steep_axis,
            eye.back_flat_radius,
            eye.back_steep_radius,
            eye.back_steep_axis,
        ),
        "regression": astigmatism.regression_abulafia2016(np.where(regular, front, np.nan)),
        "map_ring": 2 * (waves[0] + 1j * waves[1]),
        # The cylinder corrects the eye, so it is strongest, with its sign, where the eye is weakest.
        "refraction": vectors.double_angle(worn[1] - worn[0], eye.refraction_axis),
    }
    table = np.stack([np.where(np.isnan(found[key]), np.nan, found[key]) for key in SOURCES], axis=-1)
    x, y = _parts(table)
    by_hand, order = there(eye.astigmatism_source), [SOURCES.index(key) for key in FIRST]
    place = np.select(
        [by_hand, *(there(x[..., at]) for at in order)],
        [place_of(eye.astigmatism_source, [w("choice", key) for key in OFFERED]), *(at + 1.0 for at in order)],
        np.nan,
    )
    in_front = np.isin(place, [OFFERED.index(key) + 1 for key in ("zone3", "ring")])
    chosen = at_number(table, place)
    cornea, (cx, cy) = vectors.magnitude_and_axis(chosen), _parts(chosen)
    front_x, front_y = _parts(front)
    values.put(
        "sources",
        source_x=x,
        source_y=y,
        source_cylinder=np.where(np.isnan(table), np.nan, np.abs(table)),
        source_axis=vectors.magnitude_and_axis(table).axis,
        source_distance=np.where(np.isnan(table), np.nan, np.abs(table - chosen[..., None])),
    )
    values.put(
        "eyes",
        front_x=front_x,
        front_y=front_y,
        refraction_sphere_at_cornea=worn[0],
        refraction_second_at_cornea=worn[1],
        back_unmeasured=flag(in_front & there(eye.corneal_diagnosis) & ~regular),
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
