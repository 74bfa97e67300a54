"""The sheet of proof: published examples computed by the reference, held against their printed values."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from builder.reference import keratometry
from builder.reference.constants import CONSTANTS
from builder.reference.plan.cells import Values, select, there
from builder.spec.words import Words

Examples = Mapping[str, list[Any]]


def cornea_proof(values: Values, words: Words, examples: Examples, patients: int) -> None:
    """Corneas from print; `examples`: the constant cells of the block, by row ("" where nothing is printed)."""
    given = {key: np.array([np.nan if value == "" else value for value in cells], dtype=float)
             for key, cells in examples.items() if key != "proof_source"}
    front_radius, back_radius, thickness = (given[key] for key in ("example_front_radius", "back_mean_radius", "thickness_central"))
    front, back = keratometry.front_power(front_radius), keratometry.back_power(back_radius)
    whole = keratometry.gaussian_power_gullstrand(front_radius, back_radius, thickness)
    k = keratometry.keratometric_power_of_radius(front_radius)
    over = keratometry.over_reading_pinero2014(k, whole)
    printed = np.abs([front - given["printed_front"], back - given["printed_back"], whole - given["printed_whole"]]).max(axis=0)
    off = np.where(there(given["printed_whole"]), printed, np.abs(over - given["printed_over_reading"]))
    agrees = select([(off <= given["printed_digit"] / 2 + CONSTANTS.rounding_slack, words.get("word", "proof_yes"))],
                    words.get("word", "proof_no"))
    rows = {"front_mean_k": k, "front_power": front, "back_power": back, "gaussian_power": whole,
            "back_corrected_k": keratometry.equivalent_k(whole), "over_reading": over,
            "over_reading_excess": keratometry.over_reading_excess(k, whole), "proof_difference": off, "proof_agrees": agrees}
    values.put("cornea_examples", **{key: np.broadcast_to(row, (patients, len(row))) for key, row in rows.items()})
