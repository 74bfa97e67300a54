"""Changed formulas are noticed by the comparison with the reference: a small sample of `python -m tests.mutation`."""

from dataclasses import replace

import pytest

from builder.engine.formula.resolve import Resolver
from builder.engine.model import Model
from tests.mutation.mutants import Mutant, compiled, draw, sites
from tests.mutation.trial import Trial
from tests.support.workbooks import typed_case

SAMPLE, SEED = 40, 8
CASES = ("ready", "1-cone-both-eyes", "own-lenses")


@pytest.fixture(scope="module")
def drawn(model: Model) -> list[Mutant]:
    """The first mutants of the full run."""
    return draw(model, SAMPLE, SEED)


def test_each_mutant_changes_one_token_of_another_formula(model: Model, drawn: list[Mutant]) -> None:
    """The draw is always the same, no site comes twice, and each mutant differs from its formula."""
    assert [mutant.name for mutant in draw(model, SAMPLE, SEED)] == [mutant.name for mutant in drawn]
    assert len({mutant.site.name + mutant.site.formula for mutant in drawn}) == SAMPLE < len(sites(model))
    assert all(mutant.formula != mutant.site.formula for mutant in drawn)


def test_changed_formulas_are_noticed_and_unchanged_ones_are_not(
    model: Model, drawn: list[Mutant], gnumeric: str
) -> None:
    """In three cases most mutants already differ from the reference; the formulas as they are never do."""
    del gnumeric
    resolver = Resolver(model.spec, model.layout, dict(model.constants))
    alike = [
        compiled(replace(mutant, formula=mutant.site.formula, cells=(), refused=""), model, resolver)
        for mutant in drawn
    ]
    trial = Trial([*drawn, *alike], {})
    trial.run_displays(model)
    trial.run(model, {name: typed_case(name) for name in CASES})
    noticed = [number for number in trial.noticed if number < SAMPLE]
    refused = [mutant for mutant in drawn if mutant.refused]
    assert set(trial.noticed) == set(noticed), "an unchanged formula differs from the reference"
    assert len(noticed) + len(refused) > SAMPLE // 2
