"""The examples of the sheet of proof, computed by the functions that compute the patient.

An example list has one column an example: rows (k,).

Another method: that of the functions which compute the patient, named in their modules; _ratios and _misaligned follow
a ray, where the cells have the lens factor in closed form.
An echo: _lengths, _lenses and _choices, straight lines and comparisons as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words
from builder.planner.reference import (
    after_laser,
    astigmatism,
    follow_up,
    keratometry,
    lens_position,
    toric,
    vectors,
    vergence,
)
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan import formulas, laser, lead, power, sources, trace
from builder.planner.reference.plan.cells import Array, Values, there
from builder.planner.reference.plan.length import used_lengths
from builder.planner.reference.plan.lenses import lens_constants

Given = Mapping[str, NDArray[Any]]  # the constant cells of an example list by row, NaN or "" where empty
Rows = dict[str, NDArray[Any]]
LENGTH = 23.5  # mm; any length does where an example gives the light in front of the lens


def light() -> float:
    """How far (mm) light of 1 D in aqueous comes to a focus."""
    return 1000 * CONSTANTS.index_aqueous


def _shadow(given: Given, **more: NDArray[Any]) -> Values:
    """The examples as the eyes of one patient: (1, k)."""
    shadow = Values()
    shadow.put("eyes", **{key: row[None] for key, row in {**given, **more}.items()})
    return shadow


def _made(shadow: Values, given: Given) -> Rows:
    return {key: row[0] for (owner, key), row in shadow.rows.items() if owner == "eyes" and key not in given}


def _positions(given: Given, words: Words) -> Rows:
    shadow = _placed(given, words)
    formulas.positions(shadow)
    return _made(shadow, given)


def _placed(given: Given, words: Words) -> Values:
    length = given["axial_length"]
    lengths = used_lengths(length, given["length_rule_used"], words)
    return _shadow(
        given,
        chosen_haigis_a1=np.full(length.shape, CONSTANTS.haigis_a1_default),
        chosen_haigis_a2=np.full(length.shape, CONSTANTS.haigis_a2_default),
        **lengths,
        srkt_corrected_length=lens_position.position_srkt_retzlaff1990(length, 43.0, 0.0).corrected_length,
        position_radius=keratometry.radius_of_k(given["position_k"]),
    )


def _formulas(given: Given, words: Words) -> Rows:
    """The first example by the first formula, and so on."""
    shadow = _placed(given, words)
    formulas.side_by_side(shadow, words, formulas.positions(shadow))
    own: Rows = {key: np.diagonal(row[0]) for (owner, key), row in shadow.rows.items() if owner == "formulas"}
    eye = own["cornea_for_vergence"], own["optical_length"], own["lens_position"], given["lens_power"]
    return {
        **_made(shadow, given),
        **own,
        "vergence_needed": light() / (own["optical_length"] - own["lens_position"]),
        "refraction_at_cornea": vergence.refraction(*eye, 0.0),
        "refraction_predicted": power.in_focus(*eye),
        "mean_radius": keratometry.radius_of_k(given["mean_k"]),
    }


def _lengths(given: Given, words: Words) -> Rows:
    return dict(used_lengths(given["axial_length"], given["length_rule_used"], words))


def _lenses(given: Given, _: Words) -> Rows:
    return lens_constants(given)


def _corneas(given: Given, _: Words) -> Rows:
    front, back, thickness = (given[k] for k in ("example_front_radius", "back_mean_radius", "thickness_central"))
    k, whole = (
        keratometry.keratometric_power_of_radius(front),
        keratometry.gaussian_power_gullstrand(front, back, thickness),
    )
    return {
        "front_power": keratometry.front_power(front),
        "back_power": keratometry.back_power(back),
        "gaussian_power": whole,
        "back_corrected_k": keratometry.equivalent_k(whole),
        "over_reading": keratometry.over_reading_pinero2014(k, whole),
        "over_reading_excess": keratometry.over_reading_excess(k, whole),
    }


def _laser(given: Given, words: Words) -> Rows:
    radius = given["example_front_radius"]
    k = keratometry.keratometric_power_of_radius(radius)
    absent = np.full((1, len(k)), np.nan)
    shadow = _shadow(given)
    powers = {"ring": k[None], **{key: absent for key in ("zone3", "back", "total3", "total4")}}
    laser.after_laser_powers(shadow, words, powers)
    return {
        "method_power": np.diagonal(shadow.get("methods", "method_power")[0]),
        "haigis_radius_term": CONSTANTS.haigis_index_numerator / after_laser.radius_haigis2008(radius),
        "corrected_radius": after_laser.radius_haigis2008(radius),
    }


def _choices(given: Given, words: Words) -> Rows:
    population = given["position_rule_used"] == words.get("choice", "population")
    k = given["mean_k"]
    return {
        "position_k": np.where(population, CONSTANTS.population_k, k),
        "goal_published": lead.published_goal(k),
    }


def _no_rows(_: Given, __: Words) -> Rows:
    """An example that another one reads."""
    return {}


def _vectors(given: Given, _: Words) -> Rows:
    start = vectors.double_angle(given["example_cylinder"], given["example_axis"])
    regressed = astigmatism.regression_abulafia2016(start)
    total = sources.with_incision(start, given["incision_meridian"], given["incision_sia"])
    return {**total, "regression_x": regressed.real, "regression_y": regressed.imag}


def _ratios(given: Given, _: Words) -> Rows:
    """A ray that leaves the cornea at height 1 meets the lens at height 1 - d K / n; its inverse is the factor."""
    factor = 1 / (1 - given["lead_position"] * given["example_k"] / light())
    return {
        "ratio_for_small_cylinder": factor**2,
        "benefit_gone": np.degrees(np.arccos(given["cylinder_ratio"] / 2)) / 2,
    }


def _at_lens(cornea_power: Array, position: Array) -> Array:
    """Vergence (D) in front of the lens of light that the cornea's power (D) gathers, position in mm."""
    arrived = vectors.propagate(cornea_power[:, None, None] * np.eye(2), position / light())
    return np.where(there(cornea_power), arrived[:, 0, 0], np.nan)


def _misaligned(given: Given, _: Words) -> Rows:
    size, axis, off = given["example_cylinder"], given["example_axis"], given["degrees_off"]
    position, k = given["lead_position"], given["lead_cornea"]
    front = _at_lens(k, position)
    lens = light() / (LENGTH - position) - front
    stuck = np.arange(len(size)) == len(size) - 1
    wanted = np.where(stuck, size * np.cos(np.radians(2 * off)), size)
    ideal = toric.ideal_cylinder_famlim2007(wanted, lens, LENGTH, position)
    seen = trace.Trace(k, size, axis, lens, np.full(size.shape, LENGTH), position)
    shadow = Values()
    trace.trace(shadow, "misaligned", seen, ideal, axis + off)
    rows = {key: row for (_, key), row in shadow.rows.items()}
    left = np.hypot(rows["trace_straight"], rows["trace_oblique"])
    ratio = (1 / (1 - position * k / light())) ** 2
    return {**rows, "ratio_for_small_cylinder": ratio, "left_at_cornea": 2 * left, "sphere_at_cornea": left}


def _second_lens(given: Given, _: Words) -> Rows:
    """Lenses from the refraction, as holladay1993 prints them."""
    net = follow_up.net_power(given["example_k"])
    now, goal = (
        net + vectors.spectacle_to_cornea(given[key], 0.0, 0.0, given["example_vertex"]).sphere
        for key in ("example_refraction", "example_goal")
    )
    return {"lens_added": follow_up.second_lens_holladay1993(net, now - net, goal - net, given["exchange_position"])}


EXAMPLES: Mapping[str, Callable[[Given, Words], Rows]] = {
    "formula_examples": _formulas,
    "length_examples": _lengths,
    "position_examples": _positions,
    "lens_examples": _lenses,
    "cornea_examples": _corneas,
    "laser_examples": _laser,
    "choice_examples": _choices,
    "ring_examples": _no_rows,
    "disc_examples": _no_rows,
    "vector_examples": _vectors,
    "toric_examples": _ratios,
    "misaligned": _misaligned,
    "second_examples": _second_lens,
}
