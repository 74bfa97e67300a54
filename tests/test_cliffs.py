"""No word and no flag turns on the last bit of a computed number: comparisons have slack, and limits are hit exactly.

That a sphere has no axis and a vector of no length no direction is geometry; the rest are decisions of the design.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from builder.engine.layout import Place
from builder.engine.model import Model, load_model
from builder.engine.spec.model import Row
from builder.planner.books import PLAN, REGISTER
from builder.planner.values import evaluate_cases
from tests.hit import again, judged, kept
from tests.support.witnesses import compare, witness
from tests.support.workbooks import typed_case

SAMPLE, ENOUGH = 16, 250  # of ways that were kept
COMPARES = re.compile(r"<=|>=|<>|<|>|=")
NAME = re.compile(r"[A-Za-z_@#][\w.@#]*")
WHOLE = re.compile(r"\b(?:COUNT|COUNTIF|COUNTBLANK|LEN|MOD|ROUND)\((?:[^()]|\([^()]*\))*\)")  # exact by themselves
PICKED = ("lens_cylinder", "fitted_cylinder", "fitted_power", "strongest_cylinder")  # read from lists, never computed
CLAMPED = ("hoffer_length", "hoffer_used", "counted_length", "arc_length", "arc_start", "arc_end")  # typed, or a limit
POLES = (">0", "<0", ">implanted_power")  # what is divided by afterwards, or a sign after a band: no eye is near
EXCEPT = {  # rows whose bare comparison decides no word: why
    "position_in_reach optical_length>raw_position": "no lens lies at the retina",
    "backup_fits lead_optical_length>backup_raw_position": "no lens lies at the retina",
    "fitted_position lead_optical_length>fitted_raw_position": "no lens lies at the retina",
    "lens_position optical_length>outcome_raw_position": "no lens lies at the retina",
    "lens_position optical_length>raw_position": "no lens lies at the retina",
    "srkt_corrected_length length_srkt<=srkt_long_from": "as typed there: the length rule begins above it",
    "srkt_corrected_length srkt_length<=srkt_long_from": "as typed there: the length rule begins above it",
    "t2_counts t2.optical_length>t2_raw_position": "no lens lies at the retina",
    "holladay_counts holladay1.optical_length>holladay_raw_position": "no lens lies at the retina",
    "haigis_counts haigis.optical_length>haigis_raw_position": "no lens lies at the retina",
    "lead_power_at_cornea lead_vergence_needed>lens_power": "a pole: an eye of no power",
    "standard_vergence lead_vergence_needed>standard_power": "a pole: an eye of no power",
    "benefit_gone cylinder_ratio<2": "both sides are 0 there",
    "before_axis before_second>before_first": "equal ones have no axis",
    "side_up SIN(RADIANS(side_degrees+dial_turn))>1/2": "quarter turns alone",
}
POLE_OF = ("around_", "arrives_", "now_along", "now_across", "wanted_")  # a vergence of 0 behind the lens


def _operands(formula: str) -> Iterator[str]:
    """Each comparison of a formula with both its sides."""
    for found in COMPARES.finditer(formula):
        start, end, depth = found.start(), found.end(), 0
        while start and not (depth == 0 and formula[start - 1] in "(,"):
            depth += {")": 1, "(": -1}.get(formula[start - 1], 0)
            start -= 1
        depth = 0
        while end < len(formula) and not (depth == 0 and formula[end] in "),"):
            depth += {"(": 1, ")": -1}.get(formula[end], 0)
            end += 1
        yield formula[start:end]


def bare(model: Model) -> list[str]:
    """The comparisons between computed numbers that have no slack, each with its row."""
    rows: dict[str, list[Row]] = {}
    for _, block in model.spec.blocks():
        for row in block.rows:
            rows.setdefault(row.key, []).append(row)
    typed = {item.key for item in model.spec.inputs}

    def computed(name: str) -> bool:
        key = name.rpartition(".")[2]
        if (
            key in typed
            or key in PICKED
            or key in CLAMPED
            or key not in rows
            or key.startswith(("typed_", "accepted_"))
        ):
            return False
        return any(
            not row.is_word and (row.formula or row.formulas) and (row.decimals or row.unit not in ("", "days"))
            for row in rows[key]
        )

    found = []
    for key, alike in rows.items():
        for row in (row for row in alike if row.input is None and not row.judges):
            if key.startswith(("state_", "judged_", *POLE_OF)):
                continue  # limits of what is typed, and poles
            for formula in dict.fromkeys((row.formula or "", *row.formulas.values())):
                for compared in _operands(formula):
                    if "rounding_slack" in compared or '""' in compared or compared.endswith(POLES):
                        continue
                    if any(computed(name) for name in NAME.findall(WHOLE.sub("1", compared))):
                        found.append(f"{key} {compared}")
    return found


@pytest.mark.parametrize("name", [PLAN, REGISTER])
def test_every_comparison_of_computed_numbers_has_slack(name: str) -> None:
    """Write `a<limit-rounding_slack` and `a<=limit+rounding_slack`, and the same in the reference."""
    assert [one for one in dict.fromkeys(bare(load_model(name))) if one not in EXCEPT] == []


@pytest.fixture(scope="module")
def cells(model: Model) -> dict[str, Place]:
    """The first typed cell of each input of the right eye."""
    found: dict[str, Place] = {}
    for slot in model.layout.slots:
        if slot.row.input is not None and slot.side == "right":
            found.setdefault(slot.row.input.key, slot.place)
    return found


def test_a_limit_that_is_hit_exactly_is_no_cliff(model: Model) -> None:
    """Reference and cells agree on every cell at a limit, and a step of 1e-12 either way: every tenth of the ways that
    `python -m tests.hit --keep` found, which goes all of them."""
    ways = list(kept(model))
    assert len(ways) > ENOUGH
    gone = again(model, ways[:: len(ways) // SAMPLE])
    assert len(gone) > SAMPLE / 2
    found = judged(model, gone)
    assert not found.wrong, "\n".join(found.told(model))


PAIRS = [f"{key}_{{}}" for key in ("ring", "zone3", "zone4", "second", "total3", "total4")]


def test_a_sphere_needs_no_axis_and_a_zero_effect_no_position(model: Model, cells: dict[str, Place]) -> None:
    """Each source and the back surface a sphere with and without its axis; an incision of no effect without a place."""
    base = dict(typed_case("1-cone-both-eyes"))
    states: dict[str, dict[Place, Any]] = {}
    ends = [(pair.format("flat"), pair.format("steep"), pair.format("steep_axis"), 45.0) for pair in PAIRS]
    for flat, steep, axis, value in [*ends, ("back_flat_radius", "back_steep_radius", "back_steep_axis", 6.1)]:
        sphere = {**base, cells[flat]: value, cells[steep]: value}
        states[f"{flat}: a sphere with its axis"] = {**sphere, cells[axis]: 77.0}
        states[f"{flat}: a sphere without"] = {place: x for place, x in sphere.items() if place != cells[axis]}
        states[f"{flat}: no axis"] = {place: x for place, x in base.items() if place != cells[axis]}
    for effect in (0.0, 0.3):
        for at in (None, 400.0):  # not typed, and refused
            case = {place: x for place, x in base.items() if place != cells["incision_meridian"]}
            case |= {cells["incision_sia"]: effect} | ({cells["incision_meridian"]: at} if at else {})
            states[f"an effect of {effect} at {at}"] = case
    found = compare(model, states, witness())
    assert not found.wrong, "\n".join(found.told(model))
    values = evaluate_cases(model, [states["total3_flat: a sphere without"], states["an effect of 0.0 at None"]])
    assert values.get("sources", "source_cylinder")[0, 0, 0] == 0
    assert values.get("eyes", "total_x")[1, 0] == values.get("eyes", "cornea_x")[1, 0]
