"""The cells' own formulas, translated to Python, against the reference: every cell of every case, in seconds.

The three programs stay the judges (`test_three_engines.py`, `test_register.py`); this is what daily work asks.
"""

from __future__ import annotations

import pickle

import pytest
from openpyxl.utils import coordinate_to_tuple

from builder.engine.layout import Place
from builder.engine.model import Model, load_model
from builder.engine.spec.model import ErrorValue
from builder.engine.witness.book import Book, Cell
from builder.engine.witness.copies import Copied, runs
from builder.engine.witness.translate import Untranslated, translate
from builder.planner.books import PLAN, REGISTER
from tests.support.witnesses import SHORT, Compared, compare, short_registers, witness
from tests.support.workbooks import case_files, typed_case
from tests.test_dialect import AT, COLUMNS, LONE, ROWS, TRIALS, same_as_expected

# Rows of a case where the last bit of a computed number decides a word, until its formula has some slack.
CLIFFS: dict[str, list[str]] = {}


def told(model: Model, found: Compared) -> str:
    return "\n".join(found.told(model))


def test_every_cell_of_every_case(model: Model) -> None:
    """Numbers agree to 1e-9 relative or absolute, axes to 2e-6 degrees on the circle, words exactly."""
    states = {name: typed_case(name) for name in ("blank", *case_files())}
    found = compare(model, states, witness(), cliffs=CLIFFS)
    assert found.cells == len(states) * len(model.compiled)
    assert not found.wrong, told(model, found)
    assert not found.apart, "other digits may be shown before computing than after"


def test_every_cell_of_the_spanish_workbook() -> None:
    """Its texts are others, and longer; blank."""
    model = load_model(PLAN, "es")
    found = compare(model, {"blank": {}}, witness(PLAN, "es"))
    assert not found.wrong, told(model, found)


def test_every_cell_of_registers_of_twelve_lines() -> None:
    model = load_model(REGISTER, lines=SHORT)
    states = short_registers(model)
    found = compare(model, states, witness(REGISTER, lines=SHORT))
    assert found.cells == len(states) * len(model.compiled)
    assert not found.wrong, told(model, found)
    assert not found.apart, "other digits may be shown before computing than after"


def _trials() -> Book:
    """The trials of the dialect and the cells that they read, as `test_dialect.py` writes them into a file."""
    data = {f"{letter}{line}": value for letter, column in COLUMNS.items() for line, value in enumerate(column, 1)}
    data |= {f"F{line}": value for line, value in enumerate(LONE.values(), 1)}
    for start, values in ROWS.items():
        data |= {f"{chr(ord(start[0]) + step)}{start[1]}": value for step, value in enumerate(values)}
    formulas: dict[Cell, str] = {("Trials", n, 0): text.format_map(AT)[1:] for n, (text, _) in enumerate(TRIALS)}
    held: dict[Cell, object] = {}
    for address, value in data.items():
        line, column = coordinate_to_tuple(address)
        cell = "Data", line - 1, column - 1
        if value == "=NA()":
            held[cell] = ErrorValue("#N/A")
        elif isinstance(value, str) and len(value) > 1 and value.startswith("="):
            formulas[cell] = value[1:]
        else:
            held[cell] = value
    return Book(formulas, held)


def test_each_idiom_of_the_dialect_gives_the_expected_result() -> None:
    """The trials that the three programs pass."""
    found = _trials().values(("Trials", n, 0) for n in range(len(TRIALS)))
    wrong = [
        f"{text}: {value!r} instead of {wanted!r}"
        for (text, wanted), value in zip(TRIALS, found, strict=True)
        if not same_as_expected(wanted, None if value == "" else value)
    ]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    ("formula", "typed", "wanted"),
    [
        ("A1+1", None, "#VALUE!"),  # 1 in some programs, by a setting
        ("A1+1", "", "#VALUE!"),
        ("IF(AND(A1>0,B1=1),1,2)", "x", 1.0),  # a text is above every number
        ("IF(OR(A1,B1=1),1,2)", "x", "#VALUE!"),
        ("IF(AND(B1=0,1/A1>0),1,2)", 0, "#DIV/0!"),  # no short cut
        ("ROUND(A1,0)", 2.5, 3.0),
        ("ROUND(A1,0)", -2.5, -3.0),
        ("ROUND(A1,2)", 1.005, 1.01),
        ("FIXED(A1,1,TRUE)", 0.25, "0.3"),
        ("A1^0.5", -1.0, "#NUM!"),
        ("MOD(A1,180)", -30.0, 150.0),
        ("-A1^2", 3.0, 9.0),
        ("2-A1-1", 3.0, -2.0),
        ("8/A1/2", 2.0, 2.0),
        ("SUM(A1:B1)", "3", 1.0),
        ("A1=B1", True, False),
        ('COUNTIF(A1:B1,">0")', 1, "#VALUE!"),
    ],
)
def test_what_programs_mean_by_a_formula(formula: str, typed: object, wanted: object) -> None:
    """Documented meanings (ISO/IEC 29500-1, 18.17), and an error value where programs differ."""
    book = Book({("S", 4, 4): formula}, {("S", 0, 1): 1})
    book.type({("S", 0, 0): typed})
    found = book.values([("S", 4, 4)])[0]
    assert found == wanted and type(found) in (type(wanted), ErrorValue)


@pytest.mark.parametrize("formula", ["NOW()", "SUM(A1", "A1 B1", "1+", "A1#", "IF(A1,1)", "lower"])
def test_what_is_not_of_the_dialect_is_refused(formula: str) -> None:
    with pytest.raises(Untranslated):
        translate(Copied("Sheet", formula).pattern)


def test_a_state_leaves_nothing_behind(model: Model) -> None:
    """Whatever was typed before, a state has the same values."""
    seen = witness()
    blank = seen.values({})
    seen.values(typed_case("ready"))
    assert seen.values({}) == blank


@pytest.mark.parametrize(
    ("prepared", "checked", "number", "again", "same", "differs"),
    [("A.  Tester", "a. tester ", "ab-1", "AB-1", 1.0, 0.0), ("A. Tester", "B. Tester", 12.0, "12", 0.0, 0.0)],
)
def test_typed_texts_are_compared_by_their_letters(
    model: Model, prepared: str, checked: str, number: object, again: str, same: float, differs: float
) -> None:
    """Neither capitals nor gaps make another person, and a file number is the same as a text and as a number."""
    texts = {"prepared_by": prepared, "checked_by": checked, "file_number": number, "again_file_number": again}
    cells = {model.layout.cells("plan", f"typed_{key}")["", "plan"].place: text for key, text in texts.items()}
    typed = {**typed_case("ready"), **cells}
    assert not compare(model, {"persons": typed}, witness()).wrong
    live, found = model.layout.cells("plan_points", "plan_point_live"), witness().values(typed)
    assert [found[live["", key].place] for key in ("same_person", "differs_number")] == [same, differs]


def test_a_wrong_cell_is_found_and_told(model: Model) -> None:
    """A reference that sees another length than the cells differs; the first cells of the chain are told."""

    class Deaf:
        """A witness that is never told one of the typed cells."""

        place: Place = model.layout.cells("eyes", "typed_axial_length")["right", "right"].place
        fixed, reads = witness().fixed, staticmethod(witness().reads)

        def values(self, typed: dict[Place, object]) -> dict[Place, object]:
            return witness().values({place: value for place, value in typed.items() if place != self.place})

    found = compare(model, {"ready": typed_case("ready")}, Deaf())  # type: ignore[arg-type]
    assert found.wrong > 100 and len(found.first) < 10
    assert "right.state_axial_length Readings!" in told(model, found)


def test_a_copy_further_down_is_known_by_its_formula() -> None:
    """Lines move where no $ stands before them; a percent sign, a text and a title with digits stay as they are."""
    copied = Copied("Own", "IF(Sheet2!B5>$C7,D$3:D6,\"B5 %\"&'A 1'!$E$9)")
    assert copied.pattern == 'IF(@>@,@,"B5 %"&@)'
    assert copied.formula(0) == "IF(Sheet2!B5>$C7,D$3:D6,\"B5 %\"&'A 1'!$E$9)"
    assert copied.formula(4) == "IF(Sheet2!B9>$C11,D$3:D10,\"B5 %\"&'A 1'!$E$9)"
    assert [moves for _, moves in copied.names] == [[1], [1], [0, 1], [0]]
    assert copied.names[2][0] == [("Own", 2, 3), ("Own", 5, 3)]


def test_a_column_of_copies_is_one_run_until_a_formula_differs() -> None:
    formulas = {("S", line, 1): f"A{line + 1}*2" for line in range(4)} | {("S", 4, 1): "A5*3", ("S", 6, 1): "A7*3"}
    assert [(cell, count) for cell, _, count in runs(formulas)] == [
        (("S", 0, 1), 4),
        (("S", 4, 1), 1),
        (("S", 6, 1), 1),
    ]


def test_a_book_that_was_kept_computes_as_before() -> None:
    """Its functions are made again from what is written of them, its areas too."""
    book = Book({("S", 0, 1): "SUM(A1:A2)*2", ("S", 1, 1): 'IF(B1>5,"much",B1)'}, {})
    again = pickle.loads(pickle.dumps(book))
    for one in (book, again):
        one.type({("S", 0, 0): 1, ("S", 1, 0): 2})
    assert again.values([("S", 0, 1), ("S", 1, 1)]) == book.values([("S", 0, 1), ("S", 1, 1)]) == [6.0, "much"]
