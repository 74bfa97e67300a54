"""The backup lens if the bag does not hold: three pieces in the sulcus, in this eye and by the published rule.

Another method: powers and refractions by ray-transfer matrices (vergence), where the cells have vergence equations in
closed form; heights by half-angles (lens_position), where they take roots.
An echo: the look-up of the lens, the step and the published rule as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, WordArray, at_number, flag, there
from builder.planner.reference.plan.formulas import LENS_CONSTANTS, lens_of, positions_of
from builder.planner.reference.plan.power import in_focus
from builder.planner.reference.plan.readings import Reader
from builder.planner.reference.toric import step_count

POWERS = {"from": "power_from", "to": "power_to", "step": "power_step"}  # by the row's name here


def read_sulcus_lens(reader: Reader, words: Words) -> None:
    """The three-piece lens: a name of the table, of no other kind."""
    names, kinds = (reader.values.get("lenses", key) for key in ("lens_name", "lens_kind"))

    def another_kind(accepted: WordArray) -> Array:
        wrong = np.full(accepted.shape, np.nan)
        for patient, side in np.ndindex(accepted.shape):
            if accepted[patient, side]:
                at = list(names[patient]).index(accepted[patient, side])
                wrong[patient, side] = float(kinds[patient, at] != words.get("choice", "three_piece"))
        return wrong

    reader.read("sulcus_lens", another_kind, lambda patient: list(names[patient]))


def backup(values: Values, words: Words) -> None:
    """The three-piece lens in the sulcus and with a captured optic, beside the published rule."""
    eye, w = EyeValues(values), words.get
    at, lens = lens_of(values, eye.sulcus_lens, (*LENS_CONSTANTS, *POWERS.values()))
    rows = {key: lens[key] for key in LENS_CONSTANTS} | {key: lens[of] for key, of in POWERS.items()}
    values.put("eyes", sulcus_place=at, **{f"sulcus_{key}": row for key, row in rows.items()})
    by_formula = positions_of(values, "sulcus")
    bag = at_number(by_formula, eye.lead_place)
    values.put("formulas", backup_position_by=by_formula)
    raw = np.stack([bag - CONSTANTS.sulcus_forward, bag], axis=-1)
    cornea, length = eye.lead_cornea[..., None], eye.lead_optical_length[..., None]
    fits = vergence.position_is_valid(length, raw) & (
        bag[..., None] <= CONSTANTS.deepest_lens + CONSTANTS.rounding_slack
    )
    position = np.where(fits, raw, np.nan)
    exact = vergence.lens_power(cornea, length, position, eye.goal_refraction[..., None])
    first, last, step = (rows[key][..., None] for key in POWERS)
    number, end = (exact - first) / step, np.round((last - first) / step, 6)
    nearest = (eye.step_rule == w("choice", "nearest"))[..., None]
    taken = np.where(
        there(eye.step_rule)[..., None],
        step_count(exact, first, step, nearest),
        np.nan,
    )
    inside = (
        (number >= -CONSTANTS.rounding_slack)
        & (number <= end + CONSTANTS.rounding_slack)
        & (taken <= end + CONSTANTS.rounding_slack)
    )
    power = np.where(inside, first + taken * step, np.nan)
    values.put(
        "backups",
        backup_position=position,
        backup_exact=exact,
        backup_steps_to_last=np.broadcast_to(end, raw.shape),
        backup_power=power,
        backup_refraction=in_focus(cornea, length, position, power),
    )
    in_bag, slack = eye.lens_power, CONSTANTS.rounding_slack
    strong = in_bag > CONSTANTS.sulcus_rule_strong + CONSTANTS.rounding_slack
    spoken_of = in_bag >= CONSTANTS.sulcus_rule_from - CONSTANTS.rounding_slack  # weaker lenses: nothing published
    less = np.where(strong, CONSTANTS.sulcus_less_strong, np.where(spoken_of, CONSTANTS.sulcus_less_usual, np.nan))
    apart = np.abs(power[..., 0] - (in_bag - less))
    values.put(
        "eyes",
        sulcus_bag_position=bag,
        sulcus_power=power[..., 0],
        sulcus_rule_less=less,
        sulcus_rule_most=np.where(strong, CONSTANTS.sulcus_less_most, np.nan),
        sulcus_power_rule=in_bag - less,
        sulcus_rule_lacks=flag(~there(less)),
        sulcus_rule_agrees=np.where(there(apart), flag(apart < CONSTANTS.sulcus_note_from + slack), np.nan),
        sulcus_rule_misleads=np.where(
            there(apart),
            flag((eye.mean_k > CONSTANTS.goal_band_low + slack) & (power[..., 0] < in_bag - less - slack)),
            np.nan,
        ),
    )
