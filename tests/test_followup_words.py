"""What the follow-up says and asks for: a turn as an order or as a condition, and what to type next."""

from __future__ import annotations

from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from builder.planner.reference.constants import CONSTANTS
from tests.support.followed import Case, case_of, evaluate
from tests.support.workbooks import by_key, expected


def _first_cell(model: Model, key: str) -> str:
    """Where an input of the right eye is typed first."""
    lists = model.layout.lists_of[f"typed_{key}"]
    return min(s.place for (of, _), s in model.layout.cells(lists[0], f"typed_{key}").items() if of == "right").address


def test_a_turn_that_gains_little_is_not_ordered(model: Model) -> None:
    """Only a turn that is worth it is an order; any other is said as a condition."""
    cases = [case_of(f"followup-{name}") for name in ("cured-by-turning", "across-zero", "plus-notation")]
    gains = evaluate(model, *cases).get("eyes", "turn_gain")[:, 0]
    assert [gain >= CONSTANTS.turn_worth for gain in gains] == [True, False, False]
    place = model.layout.cells("answers", "answer_sentence")["right", "turning_way"].place
    for gain, cells in zip(gains, expected(model, [typed_cells(model, case) for case in cases]), strict=True):
        order = "Turn the lens by " if gain >= CONSTANTS.turn_worth else "If it is turned all the same: by "
        assert str(cells[place]).startswith(order)


SEEN = {"sphere": 0.5, "cylinder": -1.0, "axis": 90}
PUT = {"implanted_power": 21.0, "implanted_cylinder": 2.0, "implanted_axis": 88}
NEXT = (  # typed after the operation, what is asked for next, and into which cell
    ({}, "Look through Cornea", ""),
    ({"implanted_power": 21.5}, "Sphere, cylinder and axis of a visit", "seen_sphere"),
    ({"visit": [{"day": 3}]}, "Sphere, cylinder and axis of a visit", "seen_sphere"),
    ({"visit": [SEEN], "visit_to_judge": 2}, "The visit to be judged lacks", "seen_sphere"),
    ({"visit": [SEEN]}, "Which lens was implanted", "implanted_lens"),
    ({"visit": [SEEN], **PUT}, "axis at which the lens was seen", "seen_lens_axis"),
    ({"visit": [SEEN], **PUT, "operated_code": 1}, "The plan was changed after the operation", "operated_code"),
    ({"visit": [{**SEEN, "lens_axis": 188}]}, "Type it again", "seen_lens_axis"),
    ({"visit": [{**SEEN, "lens_axis": 88}], **PUT}, "Read the sheet Follow-up", ""),
)
LENS = (  # likewise, of a plan that was never released: what was implanted
    ({"implanted_lens": "Example Heron"}, "The power of the implanted lens", "implanted_power"),
    ({"implanted_power": 21.5}, "The cylinder of the implanted", "implanted_cylinder"),
    ({"implanted_cylinder": 1.5}, "The axis at which the lens was implanted", "implanted_axis"),
    ({"implanted_axis": 90.0}, "axis at which the lens was seen", "seen_lens_axis"),
)


def test_what_to_type_next_after_the_operation(model: Model) -> None:
    """The visit, then the lens, then where it was seen; then to read the follow-up, not to look through the plan."""
    cases = [typed_cells(model, case_of("ready", **typed)) for typed, _, _ in NEXT]
    for cells, (typed, words, cell) in zip(expected(model, cases), NEXT, strict=True):
        _asks(model, by_key(model, cells, "type_next"), words, cell, typed)
    lens: Case = {"visit": [SEEN]}
    for typed, words, cell in LENS:
        lens |= typed
        case = case_of("ready", **lens)
        del case["plan"]["file_number"]
        cells = expected(model, [typed_cells(model, case)])[0]
        _asks(model, by_key(model, cells, "follow_next", "right"), words, cell, lens)
        assert "file number" in by_key(model, cells, "type_next"), "what stops the plan comes first"


def _asks(model: Model, said: str, words: str, cell: str, typed: Case) -> None:
    assert words in said, (typed, said)
    assert said.startswith("RIGHT EYE – ") is bool(cell), (typed, said)
    assert not cell or _first_cell(model, cell) in said.split(), (typed, said)
