"""Sheet of the cornea, first part: readings as K at 1.3375, the normal cornea, front and back surface.

Another method: equivalent powers by ray-transfer matrices (keratometry), where the cells have the equation of a thick
lens.
An echo: readings as K, pairs and means as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import keratometry
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, flag, there


def convert_readings(values: Values, words: Words) -> None:
    """Readings as K at 1.3375, and the normal cornea."""
    eye = EyeValues(values)
    millimetres = eye.keratometry_unit == words.get("choice", "millimetres")
    known = eye.keratometry_unit != ""
    powers: dict[str, Array] = {}
    for source in ("ring", "zone3", "zone4", "after", "second"):
        device = eye.second_index if source == "second" else eye.keratometer_index
        for end in ("flat_power", "steep_power"):
            reading = values.get("eyes", f"{source}_{end}".removesuffix("_power"))
            powers[f"{source}_{end}"] = _power(reading, millimetres, known, device)
    values.put("eyes", **powers)
    one = np.ones(eye.keratometry_unit.shape[0])
    normal = (CONSTANTS.normal_front_radius, CONSTANTS.normal_back_radius, CONSTANTS.normal_thickness)
    share = keratometry.equivalent_k(1.0)
    values.put(
        "plan",
        normal_gaussian_power=one * keratometry.gaussian_power_gullstrand(*normal),
        normal_over_reading=one
        * keratometry.over_reading_pinero2014(
            keratometry.keratometric_power_of_radius(normal[0]), keratometry.gaussian_power_gullstrand(*normal)
        ),
        keratometric_share=one * share,
        normal_over_reading_share=one * 100 * (1 - 1 / share),
    )


def half_pairs(values: Values) -> dict[str, np.ndarray]:
    """Of each pair of readings, flat and steep, whether one is typed, or refused, and the other is not."""
    ends = {key: (f"{key}_flat", f"{key}_steep") for key in ("ring", "zone3", "zone4", "second", "total3", "total4")}
    ends["back"] = ("back_flat_radius", "back_steep_radius")

    def entered(key: str) -> np.ndarray:
        return there(values.get("eyes", key)) | (values.get("eyes", f"refused_{key}") == 1)

    return {key: entered(flat) ^ entered(steep) for key, (flat, steep) in ends.items()}


def _power(reading: Array, millimetres: np.ndarray, known: np.ndarray, index: Array) -> Array:
    by_radius = keratometry.keratometric_power_of_radius(np.where(millimetres, reading, np.nan))
    by_index = keratometry.keratometric_power(reading, index)
    return np.where(known & there(index), np.where(millimetres, by_radius, by_index), np.nan)


def power_of_reading(values: Values, words: Words, reading: Array) -> Array:
    """Readings of the first device (peak, map) as K at 1.3375; of each eye, or lists of each eye."""
    eye = EyeValues(values)
    lists = reading.ndim > eye.keratometer_index.ndim
    unit, index = (row[..., None] if lists else row for row in (eye.keratometry_unit, eye.keratometer_index))
    return _power(reading, unit == words.get("choice", "millimetres"), unit != "", index)


def _pair(values: Values, source: str) -> np.ndarray:
    return there(values.get("eyes", f"{source}_flat_power")) & there(values.get("eyes", f"{source}_steep_power"))


def back_surface(values: Values) -> None:
    """Front from the 3 mm zone, else the ring; the back-corrected K; how much keratometry reads too much."""
    eye = EyeValues(values)
    zone, ring = _pair(values, "zone3"), _pair(values, "ring")
    front = {}
    for key in ("flat_power", "steep_power", "steep_axis"):
        other = np.where(ring, values.get("eyes", f"ring_{key}"), np.nan)
        front[f"front_{key}"] = np.where(zone, values.get("eyes", f"zone3_{key}"), other)
    mean = (front["front_flat_power"] + front["front_steep_power"]) / 2
    radius = (eye.back_flat_radius + eye.back_steep_radius) / 2
    gaussian = keratometry.back_corrected_power(
        mean, eye.back_flat_radius, eye.back_steep_radius, eye.thickness_central
    )
    values.put(
        "eyes",
        zone3_paired=flag(zone),
        ring_paired=flag(ring),
        **front,
        front_mean_k=mean,
        back_mean_radius=radius,
        gaussian_power=gaussian,
        back_corrected_k=keratometry.equivalent_k(gaussian),
        over_reading_excess=keratometry.over_reading_excess(mean, gaussian),
    )
