"""States drawn from the cases, in the reference and in the cells: a sample of `python -m tests.draw 2000`."""

from __future__ import annotations

import pytest

from builder.engine.exchange.ironcalc_model import IronCalcModel
from builder.engine.layout import Place
from builder.engine.model import Model
from builder.planner.exchange.casefile import input_slots
from tests.draw import draw, fewest, told
from tests.support.compiled import Compiled
from tests.support.drawn_states import NUMBERS, STEP, Drawing, Drawn, Missing
from tests.support.near import watched
from tests.support.witnesses import Compared, compare, witness
from tests.support.workbooks import typed_case

STATES = 200
THRESHOLDS = 100


def test_every_cell_of_drawn_states_and_no_word_hangs_on_the_last_digits(
    model: Model, in_ironcalc: IronCalcModel
) -> None:
    """In our witness and in IronCalc: numbers agree to 1e-9 relative or absolute, axes to 2e-6 degrees on the circle,
    words exactly."""
    seen = [witness(), Compiled(model, in_ironcalc)]
    found = [Compared() for _ in seen]
    with watched(model, witness()) as near:
        states = draw(model, seen, range(STATES), found)
    for one, into in zip(seen, found, strict=True):
        assert into.cells == STATES * len(model.compiled)
        assert not into.wrong, "\n".join(told(model, one, into, states))
    assert not near.rows, "\n".join(near.told(model))


def test_every_cell_at_thresholds_with_inputs_missing(model: Model) -> None:
    """Each input missing in turn, another one exactly at a limit or a last digit off. `python -m tests.draw --missing`
    draws more, and asks LibreOffice and Gnumeric."""
    drawing, found = Missing(model), Compared()
    numbers = range(0, THRESHOLDS * 97, 97)
    states = draw(model, [witness()], numbers, [found], drawing)
    assert found.cells == THRESHOLDS * len(model.compiled)
    assert not found.wrong, "\n".join(told(model, witness(), found, states))
    away = {state.changes[0][0] for state in states.values()}
    assert len(away) > 0.6 * THRESHOLDS and all(state.changes[0][1] is None for state in states.values())


@pytest.mark.parametrize(
    ("case", "eye", "key", "value"),
    [
        ("at-the-limits", "right", "back_flat_radius", 12 + STEP),  # no cylinder is left but what arithmetic leaves
        ("after-myopic-laser", "left", "ring_flat", 0.0),  # a laser cornea without a reading to compare
    ],
)
def test_what_once_differed(model: Model, case: str, eye: str, key: str, value: float) -> None:
    """States that larger draws have found."""
    place = input_slots(model)[eye, key].place
    found = compare(model, {case: {**typed_case(case), place: value}}, witness())
    assert not found.wrong, "\n".join(found.told(model))


def test_a_number_draws_the_same_state_again_and_another_number_another(model: Model) -> None:
    states = [Drawing(model).state(number) for number in (7, 7, 8)]
    assert states[0] == states[1] != states[2]


def test_the_draws_reach_the_inputs_in_every_way(model: Model) -> None:
    """Of the inputs that cases fill, most are replaced; limits hit exactly, zeros and gaps occur."""
    changes = [change for number in range(STATES) for change in Drawing(model).state(number).changes]
    items = {slot.place: slot.row.input for slot in model.layout.slots if slot.row.input}
    assert len({place for place, _ in changes}) > 150 and len(NUMBERS) == 7
    assert {0.0, None} <= {value for _, value in changes}
    at_limits = [place for place, value in changes if value in (items[place].lowest, items[place].highest)]
    assert len(at_limits) > 20


def test_the_fewest_changes_are_found(model: Model) -> None:
    """Of a state that differs by one change, that one is left; the witness here does not hear of it."""

    class Deaf:
        place: Place = model.layout.cells("eyes", "typed_axial_length")["right", "right"].place
        fixed, reads = witness().fixed, staticmethod(witness().reads)

        def values(self, typed: dict[Place, object]) -> dict[Place, object]:
            as_held = typed_case("ready")[self.place]
            return witness().values({**typed, self.place: as_held})

    other = model.layout.cells("eyes", "typed_axial_length")["left", "left"].place
    state = Drawn(0, "ready", ((other, 24.0), (Deaf.place, 23.0)))
    assert fewest(model, Deaf(), state).changes == ((Deaf.place, 23.0),)  # type: ignore[arg-type]


def test_a_decision_by_the_last_digits_is_noted(model: Model) -> None:
    """The watch itself: two numbers that arithmetic alone makes differ are told, with the row."""
    place = model.layout.cells("eyes", "status")["right", "right"].place

    class At:
        computing = place

    with watched(model, At()) as near:  # type: ignore[arg-type]
        from builder.engine.witness.translate import functions_of, ready, translate

        (less,) = functions_of(ready([translate("0.1+0.2<0.3")]))
        assert less([], []) is False
    assert near.rows["status"][0] == place
