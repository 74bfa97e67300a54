"""Sheets of the follow-up, first part: what was implanted, the visits, and which of them is judged.

Another method: visits as power matrices, where the cells have each meridian by itself; _positions places both lenses by
the whole formulas, where they take differences of constants.
An echo: what was implanted, which visits agree and which is judged, by comparisons as the cells compute them.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import follow_up, vergence
from builder.planner.reference import lens_position as place
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Array, EyeValues, Values, at_number, diagnosed, flag, select, there
from builder.planner.reference.plan.formulas import LENS_CONSTANTS, lens_of
from builder.planner.reference.plan.readings import Reader
from builder.planner.reference.vectors import (
    axis_difference,
    power_vector_of_matrix,
)

NUMBERS = np.arange(1.0, 6.0)
ENTRY = (  # cells beside the visits
    *(f"implanted_{key}" for key in ("lens", "power", "cylinder", "axis", "seat")),
    *("operated_code", "printed_sphere", "printed_cylinder", "printed_axis", "visit_to_judge"),
    *(f"after_{key}" for key in ("flat", "flat_axis", "steep", "steep_axis")),
)
SEEN = ("day", "sphere", "cylinder", "axis", "vertex", "acuity", "lens_axis")
LENS = ("implanted_lens", "implanted_power", "implanted_cylinder", "implanted_axis")


def read_inputs(reader: Reader) -> None:
    """The implanted lens, a name of the table, and the visit to judge, a whole number."""
    names = reader.values.get("lenses", "lens_name")
    reader.read("implanted_lens", names=lambda patient: list(names[patient]))

    def broken(number: Array) -> Array:
        return np.where(there(number), flag(number % 1 != 0), np.nan)

    reader.read("visit_to_judge", broken)


def implanted(values: Values, words: Words) -> None:
    """What was implanted, as typed; a name left empty is the plan's. Its place in the eye by the lead formula."""
    eye, w = EyeValues(values), words.get
    typed: list[Any] = [there(values.get("eyes", key)) for key in LENS]
    typed += [there(values.get("checkups", f"seen_{key}")).any(axis=-1) for key in SEEN if key != "vertex"]  # a default
    values.put("eyes", lens_named=flag(there(eye.implanted_lens)), follow_begun=flag(np.any(typed, axis=0)))
    refused = np.sum([values.get("eyes", f"refused_{key}") for key in ENTRY], axis=0)
    refused = refused + np.sum([values.get("checkups", f"refused_seen_{key}").sum(axis=-1) for key in SEEN], axis=0)
    bare = np.where(there(eye.implanted_power), eye.lens_choice, "")
    lens = select([(refused > 0, ""), (there(eye.implanted_lens), eye.implanted_lens)], bare)
    at, fields = lens_of(values, lens, (*LENS_CONSTANTS, "kind"))
    kind = fields.pop("kind")
    power = np.where(there(lens), eye.implanted_power, np.nan)
    bare_lens = np.where(kind == w("choice", "toric"), np.nan, 0.0)
    cylinder = np.where(there(eye.implanted_cylinder), eye.implanted_cylinder, bare_lens)
    cylinder = np.where(there(power) & there(kind), cylinder, np.nan)
    deeper = _positions(eye, fields) - _positions(
        eye, {key: values.get("eyes", f"chosen_{key}") for key in LENS_CONSTANTS}
    )
    deeper_lead = at_number(deeper, eye.lead_place)
    sulcus = eye.implanted_seat == w("choice", "in_the_sulcus")
    forward = np.where(there(power), np.where(sulcus, CONSTANTS.sulcus_forward, 0.0), np.nan)
    raw = eye.lead_position + deeper_lead - forward
    position = np.where(vergence.position_is_valid(eye.lead_optical_length, raw), raw, np.nan)
    light = 1000 * CONSTANTS.index_aqueous
    values.put("formulas", deeper_by=deeper)
    values.put(
        "eyes",
        follow_refused=refused,
        fitted_lens=lens,
        fitted_place=at,
        fitted_kind=kind,
        fitted_power=power,
        fitted_cylinder=cylinder,
        fitted_axis=np.where(cylinder > 0, eye.implanted_axis, np.nan),
        fitted_angle=np.where(cylinder > 0, eye.implanted_axis, np.nan),
        **{f"fitted_{key}": row for key, row in fields.items()},
        fitted_deeper=deeper_lead,
        fitted_seat=select([(~there(power), ""), (sulcus, w("choice", "in_the_sulcus"))], w("choice", "in_the_bag")),
        fitted_forward=forward,
        fitted_raw_position=raw,
        fitted_position=position,
        fitted_vergence=light / (eye.lead_optical_length - position) - power,
    )


def _positions(eye: EyeValues, lens: dict[str, Array]) -> Array:
    """Where each formula places a lens (n, 2, 5), from its constants.

    All but Haigis in an average eye: in every eye the same lens lies the same way deeper than another.
    """
    average = (CONSTANTS.hoffer_mean_length, CONSTANTS.population_k)
    return np.stack(
        [
            place.position_srkt_retzlaff1990(*average, lens["a"]).position,
            place.position_holladay1988(*average, lens["surgeon_factor"]).position,
            place.position_hoffer1993(*average, lens["hoffer_pacd"]).position,
            place.position_haigis2000(
                eye.length_haigis, eye.chamber_depth, lens["haigis_a0"], lens["haigis_a1"], lens["haigis_a2"]
            ).position,
            place.position_sheard2010(*average, lens["a"]).position,
        ],
        axis=-1,
    )


def visits(values: Values, words: Words) -> None:
    """Each visit at the cornea, and how it agrees with the one before; which visit is judged."""
    eye, w = EyeValues(values), words.get
    seen = {key: values.get("checkups", f"seen_{key}") for key in SEEN}
    plain = there(seen["axis"]) | (np.abs(seen["cylinder"]) < CONSTANTS.axis_free)
    complete = there(seen["sphere"]) & there(seen["cylinder"]) & plain
    axis = np.where(complete, np.nan_to_num(seen["axis"]), np.nan)
    matrices = follow_up.correction_at_cornea(seen["sphere"], seen["cylinder"], axis, seen["vertex"])
    matrices = np.where(complete[..., None, None], matrices, np.nan)
    found = power_vector_of_matrix(matrices)
    vector = 2 * (found.j0 + 1j * found.j45)

    def since(row: Array) -> Array:
        before = np.concatenate([np.full((*row.shape[:-1], 1), np.nan), row[..., :-1]], axis=-1)
        return row - before

    turned = axis_difference(seen["lens_axis"], np.roll(seen["lens_axis"], 1, axis=-1))
    turned[..., 0] = np.nan
    changes = np.abs(since(found.mean)), np.abs(since(vector))
    known = there(changes[0]) & there(eye.fitted_cylinder)[..., None]
    unturned = np.abs(turned) <= CONSTANTS.steady_axis + CONSTANTS.rounding_slack
    in_place = (eye.fitted_cylinder == 0)[..., None] | unturned
    agree = np.maximum(*changes) <= CONSTANTS.steady_refraction + CONSTANTS.rounding_slack
    steady = np.where(known, flag(agree & in_place), np.nan)
    steady_at = np.where(steady == 1, NUMBERS, 0.0)
    complete_at = complete * NUMBERS
    lens_seen = there(seen["lens_axis"])
    first_axis = np.take_along_axis(seen["lens_axis"], lens_seen.argmax(axis=-1)[..., None], axis=-1)[..., 0]
    asked = there(eye.visit_to_judge)
    asked_complete = at_number(flag(complete), eye.visit_to_judge)
    last_steady, last = steady_at.max(axis=-1), complete_at.max(axis=-1)
    latest = np.where(last_steady > 0, last_steady, last)
    number = np.where(asked, np.where(asked_complete == 1, eye.visit_to_judge, np.nan), latest)
    number = np.where((number > 0) & (eye.follow_refused == 0), number, np.nan)
    values.put(
        "checkups",
        seen_complete=flag(complete),
        found_mean=found.mean,
        found_straight=found.j0,
        found_oblique=found.j45,
        change_of_mean=since(found.mean),
        change_of_vector=changes[1],
        change_of_axis=turned,
        visit_steady=steady,
        steady_word=select([(~known, ""), (steady == 1, w("word", "steady_yes"))], w("word", "steady_no")),
        visit_shown=np.where(complete, NUMBERS, np.nan),
    )
    cut = diagnosed(eye, words, "radial_cuts")
    settled_after = np.where(cut, CONSTANTS.settled_cuts, CONSTANTS.settled_from)
    day = at_number(seen["day"], number)
    settled = np.where(there(number), flag(day >= settled_after - CONSTANTS.rounding_slack), np.nan)
    rows = {"sphere": seen["sphere"], "cylinder": seen["cylinder"], "lens_axis": seen["lens_axis"], "day": seen["day"]}
    rows |= {"mean": found.mean, "straight": found.j0, "oblique": found.j45}
    values.put(
        "eyes",
        first_lens_axis=first_axis,
        after_refused=flag(eye.follow_refused > 0),
        visit_named=flag(asked),
        asked_lacks=flag(asked & (asked_complete != 1)),
        steady_found=flag(last_steady > 0),
        judge_visit=number,
        settled_after=settled_after,
        settled=settled,
        **{f"judged_{key}": at_number(row, number) for key, row in rows.items()},
    )
