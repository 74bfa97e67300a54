"""The sheet of proof: published examples computed by the reference, held against their printed values."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from builder.reference import follow_up, keratometry, vectors
from builder.reference.constants import CONSTANTS
from builder.reference.plan.cells import Values, select, there
from builder.reference.vectors import propagate
from builder.spec.words import Words

Examples = Mapping[str, list[Any]]


def cornea_proof(values: Values, words: Words, examples: Examples, patients: int) -> None:
    """Corneas from print; `examples`: the constant cells of the block, by row ("" where nothing is printed)."""
    given = _numbers(examples)
    front_radius, back_radius, thickness = (
        given[key] for key in ("example_front_radius", "back_mean_radius", "thickness_central")
    )
    front, back = keratometry.front_power(front_radius), keratometry.back_power(back_radius)
    whole = keratometry.gaussian_power_gullstrand(front_radius, back_radius, thickness)
    k = keratometry.keratometric_power_of_radius(front_radius)
    over = keratometry.over_reading_pinero2014(k, whole)
    printed = np.abs(
        [front - given["printed_front"], back - given["printed_back"], whole - given["printed_whole"]]
    ).max(axis=0)
    off = np.where(there(given["printed_whole"]), printed, np.abs(over - given["printed_over_reading"]))
    agrees = select(
        [(off <= given["printed_digit"] / 2 + CONSTANTS.rounding_slack, words.get("word", "proof_yes"))],
        words.get("word", "proof_no"),
    )
    rows = {
        "front_mean_k": k,
        "front_power": front,
        "back_power": back,
        "gaussian_power": whole,
        "back_corrected_k": keratometry.equivalent_k(whole),
        "over_reading": over,
        "over_reading_excess": keratometry.over_reading_excess(k, whole),
        "proof_difference": off,
        "proof_agrees": agrees,
    }
    values.put("cornea_examples", **{key: np.broadcast_to(row, (patients, len(row))) for key, row in rows.items()})


def toric_proof(values: Values, words: Words, examples: Examples, patients: int) -> None:
    """Ratios of cylinder at lens and cornea, and the angle at which a toric lens has no benefit left."""
    given = _numbers(examples)
    light = 1000 * CONSTANTS.index_aqueous
    arrived = propagate(given["example_k"][:, None, None] * np.eye(2), given["lead_position"] / light)
    front = np.where(there(given["example_k"]), arrived[:, 0, 0], np.nan)
    # A ray that leaves the cornea at height 1 meets the lens at height 1 - d K / n; its inverse is the factor.
    factor = 1 / (1 - given["lead_position"] * given["example_k"] / light)
    gone = np.degrees(np.arccos(given["cylinder_ratio"] / 2)) / 2
    off = np.where(
        there(given["printed_ratio"]), np.abs(factor**2 - given["printed_ratio"]), np.abs(gone - given["printed_angle"])
    )
    agrees = select(
        [(off <= given["toric_printed_digit"] / 2 + CONSTANTS.rounding_slack, words.get("word", "proof_yes"))],
        words.get("word", "proof_no"),
    )
    rows = {
        "vergence_in_front": front,
        "position_over_index": given["lead_position"] / light,
        "cornea_to_lens_factor": factor,
        "ratio_for_small_cylinder": factor**2,
        "benefit_gone": gone,
        "toric_difference": off,
        "toric_agrees": agrees,
    }
    values.put("toric_examples", **{key: np.broadcast_to(row, (patients, len(row))) for key, row in rows.items()})


def exchange_proof(values: Values, words: Words, examples: Examples, patients: int) -> None:
    """Lenses from the refraction, as holladay1993 prints them."""
    given = _numbers(examples)
    net = follow_up.net_power(given["example_k"])
    now, goal = (
        net + vectors.spectacle_to_cornea(given[key], 0.0, 0.0, given["example_vertex"]).sphere
        for key in ("example_refraction", "example_goal")
    )
    place = given["exchange_position"]
    arrives = [follow_up.arriving(row[:, None, None] * np.eye(2), place)[:, 0, 0] for row in (now, goal)]
    added = follow_up.second_lens_holladay1993(net, now - net, goal - net, place)
    off = np.abs(added - given["printed_lens"])
    rows = {
        "net_cornea": net,
        "exchange_from": now,
        "exchange_to": goal,
        "arrives_now": arrives[0],
        "arrives_wanted": arrives[1],
        "lens_added": added,
        "second_difference": off,
        "second_agrees": select(
            [(off <= given["printed_step"] / 2 + CONSTANTS.rounding_slack, words.get("word", "proof_yes"))],
            words.get("word", "proof_no"),
        ),
    }
    values.put("second_examples", **{key: np.broadcast_to(row, (patients, len(row))) for key, row in rows.items()})


def _numbers(examples: Examples) -> dict[str, np.ndarray]:
    """The constant cells that are numbers, NaN where an example has none."""
    return {
        key: np.array([np.nan if value == "" else value for value in cells], dtype=float)
        for key, cells in examples.items()
        if not key.endswith("_source")
    }
