"""Steps have no value in the reference: that each of them counts, the rows that it leads to must tell.

Each step is computed wrongly, in all its cells at once, in one state after the other, until a cell that the reference
holds is another. Expected is only that something tells it, so nothing here is our own output.
"""

from builder.engine.model import load_model
from builder.planner.books import PLAN, REGISTER
from tests.support.register_lines import of_patients
from tests.support.steps import Trial
from tests.support.witnesses import SHORT, short_registers
from tests.support.workbooks import case_files, typed_case

PATIENTS = 24  # with both eyes: enough for a lens constant, an ellipse and an incision


def test_a_step_that_is_wrong_is_told() -> None:
    trial = Trial(load_model(PLAN))
    assert trial.steps
    assert trial.unnoticed([typed_case(case) for case in case_files()]) == []


def test_a_step_of_the_register_that_is_wrong_is_told() -> None:
    """Short registers tell most of them; long ones the others."""
    short, full = (load_model(REGISTER, lines=count) for count in (SHORT, 2 * PATIENTS))
    trial = Trial(short)
    assert len(trial.steps) > 500
    left = trial.unnoticed(list(short_registers(short).values()))
    assert Trial(full).unnoticed(of_patients(full, PATIENTS), of=left) == []
