"""Sheet of the lens power: the length that each formula takes, and the lens in the eye as it was measured.

Another method: as_measured by ray-transfer matrices and half-angles (vergence, lens_position), where the cells have
closed forms; lead_lengths finds length_share by two trial lengths, where they write the slope.
An echo: the rule for long eyes and the regressions as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.lens_length import adjusted_length_wang2011, share_of_adjustment
from builder.planner.reference.plan.cells import Array, EyeValues, Values, WordArray, at_number, select, there
from builder.planner.reference.plan.formulas import (
    FORMULAS,
    LENS_CONSTANTS,
    lengths_of,
    places,
    raw_positions,
)
from builder.planner.reference.plan.power import in_focus


def length_rule(values: Values, words: Words) -> None:
    """Whether long eyes are adjusted."""
    eye, w = EyeValues(values), words.get
    adjusted, measured = w("choice", "adjusted"), w("choice", "as_measured")
    known, typed = there(eye.axial_length) & there(eye.axial_length_method), there(eye.length_rule)
    long = eye.axial_length > CONSTANTS.adjusted_from + CONSTANTS.rounding_slack
    optical = eye.axial_length_method == w("choice", "optical")
    rule = select([(~known, ""), (typed, eye.length_rule), (long & optical, adjusted)], measured)
    values.put("eyes", length_rule_used=rule, **used_lengths(eye.axial_length, rule, words))


def used_lengths(axial_length: Array, rule: WordArray, words: Words) -> dict[str, Array]:
    """The rows of the lengths (mm), for lengths (mm) and the rule in force beside each."""
    adjusted, known = rule == words.get("choice", "adjusted"), there(rule) & there(axial_length)
    rows = {"length_weight": np.where(adjusted, share_of_adjustment(axial_length), 0.0)}
    for key, name in zip(FORMULAS, vergence.FORMULAS, strict=True):
        rows[f"length_{key}"] = np.where(adjusted, adjusted_length_wang2011(name, axial_length), axial_length)
    return {key: np.where(known, row, np.nan) for key, row in rows.items()}


def lead_lengths(values: Values, words: Words) -> None:
    """The lead formula's length in this eye and in one a little longer and shorter."""
    eye = EyeValues(values)
    names = np.array(vergence.FORMULAS)
    place = np.where(there(eye.lead_place), eye.lead_place, 1).astype(int) - 1
    added = [vergence.optical_length(name, np.array([0.0, 1.0])) for name in names]
    share = np.array([float(far - near) for near, far in added])[place]
    step = CONSTANTS.step_length
    adjusted = eye.length_rule_used == words.get("choice", "adjusted")
    found = {}
    for key, length in (("longer_length", eye.axial_length + step), ("shorter_length", eye.axial_length - step)):
        table = np.stack([adjusted_length_wang2011(name, length) for name in names], axis=-1)
        taken = np.where(adjusted, at_number(table, eye.lead_place), length)
        found[key] = np.where(there(eye.lead_place) & there(eye.length_rule_used), taken, np.nan)
    values.put(
        "eyes",
        length_share=np.where(there(eye.lead_name), share, np.nan),
        lead_length=at_number(np.stack(list(lengths_of(values).values()), axis=-1), eye.lead_place),
        **found,
    )


def as_measured(values: Values, words: Words) -> None:
    """The chosen lens by the lead formula with the measured length throughout."""
    eye = EyeValues(values)
    rule = np.full(eye.axial_length.shape, words.get("choice", "as_measured"), dtype=object)
    lengths = used_lengths(eye.axial_length, rule, words)
    lens = [values.get("eyes", f"chosen_{key}") for key in LENS_CONSTANTS]
    found = places({key: lengths[f"length_{key}"] for key in FORMULAS}, eye.position_k, eye.chamber_depth, lens)
    raw = at_number(np.stack(list(raw_positions(found).values()), axis=-1), eye.lead_place)
    length = eye.lead_optical_length + eye.length_share * (eye.axial_length - eye.lead_length)
    position = np.where(vergence.position_is_valid(length, raw), raw, np.nan)
    rows = {
        "raw_position": raw,
        "optical_length": length,
        "cornea_for_vergence": eye.lead_cornea,
        "refraction_predicted": in_focus(eye.lead_cornea, length, position, eye.lens_power),
    }
    values.put("measured", **{key: row[..., None] for key, row in rows.items()})
