"""Steps have no value in the reference: that each of them counts, the rows that it leads to must tell.

Each step is computed wrongly, in all its cells at once, in one state after the other, until a cell that the reference
holds is another. Expected is only that something tells it, so nothing here is our own output.
"""

from builder.engine.model import load_model
from builder.planner.books import PLAN
from tests.support.steps import Trial
from tests.support.workbooks import case_files, typed_case


def test_a_step_that_is_wrong_is_told() -> None:
    trial = Trial(load_model(PLAN))
    assert trial.steps
    assert trial.unnoticed([typed_case(case) for case in case_files()]) == []
