"""The lead formula's exact power over a grid of eyes, by the functions that compute a patient, without the rest."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.engine.spec.words import Words
from builder.planner.reference import lens_position as place
from builder.planner.reference.keratometry import radius_of_k
from builder.planner.reference.plan import formulas, lead, length
from builder.planner.reference.plan.cells import Values

Array = NDArray[np.float64]
A_CONSTANT = 118.9


def lead_over(
    words: Words,
    lengths: Array,
    ks: Array,
    diagnosis: str,
    *,
    depth: float = 3.45,
    goal: float = -1.0,
    a: float = 118.9,
) -> Values:
    """Rows of eyes (lengths x ks) of one diagnosis: length in mm measured optically, K in D, ACD in mm (NaN: none)."""
    axial, k = np.meshgrid(lengths, ks, indexing="ij")

    def word(text: str) -> NDArray[Any]:
        return np.full(axial.shape, text, dtype=object)

    values = Values()
    values.put(
        "eyes",
        axial_length=axial,
        axial_length_method=word(words.get("choice", "optical")),
        mean_k=k,
        mean_radius=radius_of_k(k),
        before_laser_k=np.full(k.shape, np.nan),
        chamber_depth=np.full(k.shape, depth),
        goal_refraction=np.full(k.shape, goal),
        corneal_diagnosis=word(words.get("choice", diagnosis)),
        position_k_rule=word(""),
        length_rule=word(""),
        lead_formula=word(""),
        chosen_a=np.full(k.shape, A_CONSTANT),
        chosen_surgeon_factor=np.full(k.shape, float(place.surgeon_factor_holladay1988(A_CONSTANT))),
        chosen_hoffer_pacd=np.full(k.shape, float(place.pacd_hoffer1993(A_CONSTANT))),
        chosen_haigis_a0=np.full(k.shape, float(place.a0_haigis2000(A_CONSTANT))),
        chosen_haigis_a1=np.full(k.shape, 0.4),
        chosen_haigis_a2=np.full(k.shape, 0.1),
    )
    with np.errstate(all="ignore"):
        length.length_rule(values, words)
        formulas.position_power(values, words)
        formulas.side_by_side(values, words, formulas.positions(values))
        lead.lead(values, words)
    return values
