"""Sheet of the lens power, first part: position K, the chosen lens, the formulas side by side.

Another method: powers by ray-transfer matrices (vergence), where the cells have vergence equations in closed form;
corneal heights by half-angles (lens_position), where they take roots.
An echo: the rule for the position K and the look-up of the lens as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words
from builder.planner.reference import lens_position as place
from builder.planner.reference import vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import (
    Array,
    EyeValues,
    Values,
    WordArray,
    diagnosed,
    flag,
    select,
    there,
)
from builder.planner.reference.vectors import spectacle_to_cornea

# Diagnoses in which an operation changed K, but not where a lens comes to lie.
RESHAPED = ("after_myopic_laser", "after_hyperopic_laser", "ectasia_after_laser", "radial_cuts")
FORMULAS = ("srkt", "holladay1", "hofferq", "haigis", "t2")
LENS_CONSTANTS = ("a", "surgeon_factor", "hoffer_pacd", "haigis_a0", "haigis_a1", "haigis_a2")
OF_LENS = ("kind", *LENS_CONSTANTS, "a0_converted", "power_from", "power_to", "power_step")


def position_power(values: Values, words: Words) -> None:
    """Which K places the lens (double-K)."""
    eye = EyeValues(values)
    w = words.get
    at_mean = place.position_srkt_retzlaff1990(eye.length_srkt, eye.mean_k, 0.0)
    past = at_mean.width_ratio > 2 + CONSTANTS.rounding_slack
    special = diagnosed(eye, words, *RESHAPED)
    regular = diagnosed(eye, words, "regular") & (eye.lead_formula != w("choice", "srkt"))
    past &= ~regular  # no other formula has a root
    chosen = there(eye.position_k_rule)
    rule = select(
        [
            (chosen, eye.position_k_rule),
            (special & there(eye.before_laser_k), w("choice", "before_laser")),
            (special | past, w("choice", "population")),
        ],
        w("choice", "same"),
    )
    same, before = (rule == w("choice", key) for key in ("same", "before_laser"))
    k = np.select([same, before], [eye.mean_k, eye.before_laser_k], CONSTANTS.population_k)
    values.put(
        "eyes",
        root_counts=flag(~regular),
        srkt_corrected_length=at_mean.corrected_length,
        position_rule_used=rule,
        position_k=k,
    )


def chosen_lens(values: Values) -> None:
    """The chosen lens's row of the table."""
    at, found = lens_of(values, values.get("eyes", "lens_choice"), OF_LENS)
    values.put("eyes", lens_place=at, **{f"chosen_{key}": row for key, row in found.items()})


def lens_of(values: Values, name: WordArray, wanted: Sequence[str]) -> tuple[Array, dict[str, NDArray[Any]]]:
    """Where a lens of this name (n, 2) stands in the table, counted from 1, and what is wanted of its row."""
    hits = (name[..., None] == values.get("lenses", "lens_name")[:, None, :]) & there(name)[..., None]
    found, at = hits.any(axis=-1), hits.argmax(axis=-1)
    rows = {key: np.take_along_axis(values.get("lenses", f"lens_{key}"), at, axis=1) for key in wanted}
    empty = {key: "" if row.dtype == object else np.nan for key, row in rows.items()}
    return np.where(found, at + 1.0, np.nan), {key: np.where(found, row, empty[key]) for key, row in rows.items()}


Places = tuple[
    place.SrktPosition, place.Holladay1Position, place.HofferQPosition, place.HaigisPosition, place.T2Position
]


def lengths_of(values: Values) -> dict[str, Array]:
    """The axial length (mm) that each formula takes."""
    return {key: values.get("eyes", f"length_{key}") for key in FORMULAS}


def places(lengths: Mapping[str, Array], k: Array, depth: Array, lens: Sequence[Array]) -> Places:
    """Where each formula places a lens (its LENS_CONSTANTS), for its length (mm), position K (D) and ACD (mm)."""
    a, surgeon_factor, pacd, *haigis = lens
    return (
        place.position_srkt_retzlaff1990(lengths["srkt"], k, a),
        place.position_holladay1988(lengths["holladay1"], k, surgeon_factor),
        place.position_hoffer1993(lengths["hofferq"], k, pacd),
        place.position_haigis2000(lengths["haigis"], depth, *haigis),
        place.position_sheard2010(lengths["t2"], k, a),
    )


def raw_positions(found: Places) -> dict[str, Array]:
    """The position (mm) of each formula, before its limits."""
    return dict(zip(FORMULAS, (each.position for each in found), strict=True))


def place_rows(found: Places) -> dict[str, Array]:
    """The rows of the positions, with their steps."""
    called, steps = {"position": "raw_position"}, cast(Sequence[Any], found)
    return {
        f"{name}_{called.get(row, row)}": value
        for name, each in zip(("srkt", "holladay", "hoffer", "haigis", "t2"), steps, strict=True)
        for row, value in each._asdict().items()
        if row != "corrected_length"
    }


def corrected_length(length: Array) -> Array:
    """LCOR (mm) of SRK/T."""
    return place.position_srkt_retzlaff1990(length, CONSTANTS.population_k, 0.0).corrected_length


def positions(values: Values) -> dict[str, Array]:
    """Raw lens positions of the formulas, with their steps."""
    eye = EyeValues(values)
    lens = [values.get("eyes", f"chosen_{key}") for key in LENS_CONSTANTS]
    found = places(lengths_of(values), eye.position_k, eye.chamber_depth, lens)
    values.put("eyes", **place_rows(found))
    return raw_positions(found)


def positions_of(values: Values, lens: str) -> Array:
    """Where each formula places another lens, mm (n, 2, 5); its constants are the eye's rows `<lens>_a` and so on."""
    eye = EyeValues(values)
    constants = [values.get("eyes", f"{lens}_{key}") for key in LENS_CONSTANTS]
    found = places(lengths_of(values), eye.position_k, eye.chamber_depth, constants)
    return np.stack(list(raw_positions(found).values()), axis=-1)


def side_by_side(values: Values, words: Words, raw: dict[str, Array]) -> None:
    """Kc, L, d and the powers for plano and for the goal."""
    eye = EyeValues(values)
    goal = spectacle_to_cornea(eye.goal_refraction, 0.0, 0.0, CONSTANTS.vertex_of_formulas).sphere
    values.put("eyes", goal_at_cornea=goal)
    rows = []
    for key, name in zip(FORMULAS, vergence.FORMULAS, strict=True):
        cornea = vergence.corneal_power(name, eye.mean_k)
        length = vergence.optical_length(name, values.get("eyes", f"length_{key}"))
        position = np.where(vergence.position_is_valid(length, raw[key]), raw[key], np.nan)
        rows.append(
            {
                "cornea_for_vergence": cornea,
                "optical_length": length,
                "raw_position": raw[key],
                "lens_position": position,
                "plano_power": vergence.plano_power(cornea, length, position),
                "goal_power": vergence.lens_power(cornea, length, position, eye.goal_refraction),
            }
        )
    values.put("formulas", **{row: np.stack([found[row] for found in rows], axis=-1) for row in rows[0]})
