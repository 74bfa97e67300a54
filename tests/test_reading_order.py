"""Sheets are read from top to bottom, as FAST and ICAEW ask, below the answers that stand first by design.

Within a block a row reads rows above it; what looks down is a result that stands before its steps, listed here, and
the list only shrinks. Of the references from block to block within a sheet of the plan, those to a later block belong
to the head of a sheet; their share may only shrink. Every figure is the house's own.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from builder.engine.model import Model, load_model
from builder.planner.books import PLAN, REGISTER

# The row that looks down and the row that it reads, by workbook and block: a result before its steps.
RESULT_FIRST = {
    PLAN: {
        ("sulcus_found", "sulcus_power_rule", "sulcus_rule_less"),
        ("chosen_power", "cornea_note", "front_alone"),
        ("chosen_power", "rule_said", "mean_k"),
        ("verdict", "toric_verdict", "fit_against"),
        ("verdict", "toric_verdict", "fit_borderline"),
        ("verdict", "toric_verdict", "fit_missing_count"),
        ("plan_points", "plan_point_number", "plan_point_live"),
        ("points", "point_number", "point_live"),
        ("side_by_side", "goal_power", "vergence_needed"),
        ("side_by_side", "plano_power", "vergence_needed"),
        ("light_proof", "goal_power", "vergence_needed"),
        ("light_proof", "plano_power", "vergence_needed"),
        ("register_after", "after_axis", "after_half_size"),
        ("register_after", "after_cylinder", "after_low_at_cornea"),
        ("register_after", "after_sphere", "after_high_at_cornea"),
    },
    REGISTER: {
        ("proof_of_shares", "wilson_high_counted", "wilson_middle_counted"),
        ("proof_of_shares", "wilson_high_counted", "wilson_reach_counted"),
        ("proof_of_shares", "wilson_low_counted", "wilson_middle_counted"),
        ("proof_of_shares", "wilson_low_counted", "wilson_reach_counted"),
    },
}
TO_LATER_BLOCKS = 0.06  # of the references within the plan's sheets; never raise it


@pytest.fixture(scope="module", params=[PLAN, REGISTER])
def model(request: pytest.FixtureRequest) -> Model:
    return load_model(request.param, lines=12 if request.param == REGISTER else None)


def looking_down(model: Model) -> Iterator[tuple[str, str, str]]:
    """Block, row and the row below it in that block that it reads for the same instance."""
    for compiled in model.compiled.values():
        slot = compiled.slot
        order = [row.key for row in slot.block.rows]
        for read in compiled.reads:
            of_this = read.block is slot.block and read.instance == slot.instance
            if of_this and order.index(read.row.key) > order.index(slot.row.key):
                yield slot.block.key, slot.row.key, read.row.key


def test_within_a_block_only_results_look_down(model: Model) -> None:
    assert set(looking_down(model)) == RESULT_FIRST[model.spec.name]


def test_few_references_look_to_a_later_block_of_their_sheet() -> None:
    model, down, within = load_model(PLAN), 0, 0
    for place, compiled in model.compiled.items():
        for read in compiled.reads:
            if read.place.sheet == place.sheet:
                within += 1
                down += read.place.line > place.line
    assert down / within <= TO_LATER_BLOCKS
