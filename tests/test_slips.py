"""Slips: a sample of the catalogue, and a case for each of them. `python -m tests.slips` plays all of it.

Which slips there are, and what of them is to be noticed, is ours and common practice, no source.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from builder.engine.exchange.ironcalc_model import IronCalcModel
from builder.engine.model import Model
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.slips import natural_lens
from builder.planner.values import evaluate_cases
from tests.slips.catalogue import AFTER_CHECK, CATALOGUE
from tests.slips.played import Tally, in_cells, play, spoil
from tests.slips.right import Case, evaluated, right_cases
from tests.support.compiled import Compiled
from tests.support.witnesses import witness
from tests.support.workbooks import case_files, typed_case

SLIPS, RIGHT, ALARMS = 80, 30, 3  # at least so many slips over so many right cases, of which at most so many alarm
EACH, COSTLY = 2, 1.0  # slips of a kind; D
LEFT = Path(__file__).parent / "slips" / "left.toml"
IN_CELLS = 9  # one slip of so many is compared cell by cell
WITHOUT_A_CASE = {  # points that a case would show only with what no case file can hold, or that tests type themselves
    "no_cylinder_result",
    "changed_after_check",
    "yes_without_slip",
    "t2_too_steep",
}
ALWAYS = (
    "another patient's file number",
    "index 1.332 for 1.3375",
    "incision effect ten times",
    "reference mark 100 degrees off",
    "laser not told",
    "A constant -2.0 typed twice",
    "cylinders out of order",
    "step 5 for 0.5",
    "no cylinders",
    "an example lens chosen",
    "the fellow's length, and the fellow refused",
    "the fellow's printout used for this eye too",
    "digits of axial_length turned, tens and units, both entries",
    "digits of axial_length turned, units and tenths, first entry",
    "after the check: goal ten times",
    "after the check: the other toric lens",
)


@pytest.fixture(scope="module")
def rights(model: Model) -> list[Case]:
    """The right cases."""
    return right_cases(model)


@pytest.fixture(scope="module")
def played(model: Model, rights: list[Case]) -> dict[str, Tally]:
    """The sample: every slip in a few right cases."""
    return {tally.name: tally for tally in play(model, rights, list(CATALOGUE), EACH) if tally.played}


def test_right_cases_are_many_and_raise_no_alarm(model: Model, rights: list[Case]) -> None:
    """Every eye is ready, and what would stop it until confirmed is raised in hardly any."""
    assert len(rights) >= RIGHT
    values = evaluated(model, rights)
    alarms = [slip for slip in values.get("eyes", "confirm_count").max(axis=1) if slip > 0]
    assert len(alarms) <= ALARMS


def test_the_catalogue_is_large_and_most_of_it_is_noticed(played: dict[str, Tally]) -> None:
    """Four of five slips raise something that the right case does not."""
    assert len(played) >= SLIPS
    assert sum(tally.caught for tally in played.values()) > 0.75 * sum(tally.played for tally in played.values())


def test_spoilt_cases_are_the_same_in_the_cells(model: Model, rights: list[Case], in_ironcalc: IronCalcModel) -> None:
    """Some slips in the cells' own formulas and in IronCalc; `python -m tests.slips --engine` asks for all."""
    names = list(CATALOGUE)[::IN_CELLS]
    spoilt = spoil(rights, names, 1)
    assert len(spoilt) > 0.8 * len(names)
    for seen in (witness(), Compiled(model, in_ironcalc)):
        found = in_cells(model, spoilt, names, seen)
        assert not found.wrong, "\n".join(found.told(model))
        assert found.cells == len(spoilt) * len(model.compiled)


@pytest.mark.parametrize("name", ALWAYS)
def test_what_is_always_noticed(played: dict[str, Tally], name: str) -> None:
    assert (played[name].caught, played[name].losses) == (played[name].played, [])


def test_a_first_entry_alone_is_noticed_by_the_second(played: dict[str, Tally]) -> None:
    """A slip of one entry in what is typed again stops the plan, whatever it costs."""
    again = [
        name for name in played if name.startswith(("digits of axial", "digits of acd", "goal")) and "first" in name
    ]
    assert len(again) > 5
    assert not [name for name in again if played[name].stopped < played[name].played]


def test_a_change_after_the_check_is_told_when_the_plan_changed(played: dict[str, Tally]) -> None:
    """What it leaves unnoticed is no other plan: the same lens, as good as before."""
    for name in [name for name in played if name.startswith(AFTER_CHECK)]:
        assert played[name].worst < 1e-9, name


def test_each_slip_has_a_case(model: Model) -> None:
    """Every point of an eye is raised by some case file, but those that tests type themselves."""
    names = list(case_files())
    raised = evaluate_cases(model, [typed_case(name) for name in names]).get("points", "point_live").max(axis=(0, 1))
    order = model.spec.lists["points"].keys
    refused = {point.key for point in model.spec.points if point.refuses}
    silent = {key for key, on in zip(order, raised, strict=True) if not on} - refused
    assert silent == WITHOUT_A_CASE


def test_power_of_the_eyes_own_lens_is_that_of_print() -> None:
    """The schematic eye of Gullstrand (1909, [M]): 24.385 mm, net cornea 43.05 D, lens 19.11 D, emmetropic but +1.0 D.

    Taken as thin 2.2 mm behind its front, 3.6 mm from the cornea: within 2 D of the thick lens.
    """
    place = np.array([3.6 + CONSTANTS.natural_lens_behind])
    power = natural_lens(np.array([24.385]), np.array([43.05]), place, np.array([1.0]))
    assert power[0] == pytest.approx(19.11, abs=2.0)
    assert natural_lens(np.array([24.385]), np.array([43.05]), place, np.array([-5.0])) > power


def test_what_is_left_to_the_clinic_is_said_in_hazards(model: Model, played: dict[str, Tally]) -> None:
    """Each slip that may pass unnoticed and cost much has a hazard whose last column says that it is silent."""
    left = tomllib.loads(LEFT.read_text("utf-8"))
    assert set(left) <= set(CATALOGUE)
    assert {tally.name for tally in played.values() if tally.worst > COSTLY} <= set(left)
    hazards = {hazard.key: hazard for hazard in model.spec.hazards}
    for name, key in left.items():
        assert hazards[key].left_to, name
        said = model.spec.words.get("residual", key)
        assert "silent" in said, (name, said)
