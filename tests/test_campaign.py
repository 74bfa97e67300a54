"""Hostile workbooks are judged rightly: a small sample of `python -m tests.campaign`."""

from collections import Counter

from builder.engine.layout import Place
from builder.engine.model import Model
from tests.campaign.hostile import PLAUSIBLE, SHARES, Hostile, draw
from tests.campaign.judging import Counts, must_be_withheld
from tests.campaign.programs import count
from tests.campaign.returned import FOUND_BY, found_in_returned
from tests.support.many_states import TypedFormula
from tests.support.workbooks import at, expected, typed_case

SAMPLE, SEED = 2000, 7  # as the full run draws them
TRIED = 8


def _place(model: Model, key: str, eye: str = "right") -> Place:
    return model.layout.cells("eyes", f"typed_{key}")[eye, eye].place


def test_the_draw_is_always_the_same_and_has_every_kind(model: Model) -> None:
    """At least twenty workbooks of each kind; the kinds that must be refused say which cells."""
    books = draw(model, SAMPLE, SEED)
    assert [str(book) for book in books] == [str(book) for book in draw(model, SAMPLE, SEED)]
    kinds = Counter(book.kind for book in books)
    assert set(kinds) == set(SHARES) and min(kinds.values()) >= 20
    assert all(book.refused == set(book.written) for book in books if book.kind not in PLAUSIBLE)


def test_a_sample_in_gnumeric_has_no_fault(model: Model, gnumeric: str) -> None:
    """Nothing is released wrongly, no error is shown, every cell is as the reference has it."""
    books = draw(model, SAMPLE, SEED)
    counts = count(model, gnumeric, books[:: len(books) // TRIED])
    assert counts.total >= TRIED
    assert not counts.fault_count, counts


def test_the_judging_can_fail(model: Model) -> None:
    """A workbook that shows what it showed before the rubbish came is found out in every way."""
    book = Hostile("decimal comma", "ready")
    book.put(_place(model, "axial_length"), "23,5", refuse=True)
    before, wanted = expected(model, [typed_case("ready"), book.typed])
    unchanged = {at(model, place): value for place, value in before.items()}
    counts = Counts()
    counts.judge(model, book, {**unchanged, ("Start", "A1"): "#VALUE!"}, unchanged, wanted)
    assert counts.released_wrongly and counts.unnamed and counts.errors and counts.wrong
    assert not counts.withheld and not counts.warned


def test_what_must_be_withheld_is_found_without_the_reference(model: Model) -> None:
    """A missing reading, and a first entry that is no longer its second."""
    book = Hostile("cells deleted", "ready")
    assert must_be_withheld(model, book) == set()
    book.put(_place(model, "axial_length", "left"), None)
    assert must_be_withheld(model, book) == {"left"}
    book.put(_place(model, "goal_refraction"), 1.0)
    assert must_be_withheld(model, book) == {"right", "left"}


def test_formulas_links_and_locks_are_found_in_returned_files(model: Model) -> None:
    """What no cell can see is named by `verify`, and a typed formula is refused by `gather`."""
    looked, missed = found_in_returned(model, draw(model, SAMPLE, SEED), 1)
    assert set(looked) == set(FOUND_BY)
    assert not missed
    value = Hostile("formula typed, a number", "ready")
    value.put(_place(model, "axial_length"), TypedFormula("20+3"), 23.0)
    assert found_in_returned(model, [value], 1)[1] == []
    silent = Hostile("formula typed, a number", "ready")
    silent.put(_place(model, "axial_length"), 23.0)  # a plain number, of which there is nothing to say
    assert "verify is silent" in found_in_returned(model, [silent], 1)[1][0]
