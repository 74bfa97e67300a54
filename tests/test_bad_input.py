"""Rubbish pasted into any input: no error value, nothing released, the reason named, in every engine.

The workbooks are drawn by hypothesis, always the same ones; besides, every kind of rubbish is put into every input.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from builder.engine.exchange.cellvalues import Cells, read_values
from builder.engine.exchange.formulas_model import FormulasModel
from builder.engine.exchange.ironcalc_model import IronCalcModel
from builder.engine.layout import Place
from builder.engine.model import Model
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.judge import ErrorValue
from tests.support.filled import fill
from tests.support.judged import areas_told, as_numbers, faults, shown_errors
from tests.support.many_states import in_gnumeric, in_libreoffice
from tests.support.rubbish import KINDS
from tests.support.spoilt import BASES, DRAWN, SWEEP, Spoilt, drawn_workbooks, swept_workbooks
from tests.support.told_states import SHOWN_ERROR
from tests.support.workbooks import Typed, at, by_key, differences, expected, typed_case

IN_FORMULAS, SHOWN = 4, 30  # the campaign of tests.campaign takes more


@pytest.fixture(scope="module")
def spoilt(model: Model) -> list[Spoilt]:
    """All workbooks, ordered by their base."""
    return sorted(drawn_workbooks(model) + swept_workbooks(model), key=lambda book: BASES.index(book.base))


@pytest.fixture(scope="module")
def wanted(model: Model, spoilt: list[Spoilt]) -> list[dict[Place, Any]]:
    """What the reference has in each."""
    return expected(model, [{**typed_case(book.base), **book.pasted(model)} for book in spoilt])


@dataclass
class Findings:
    """What an engine shows that it should not, in words, and how many workbooks it was asked about."""

    workbooks: int
    errors: list[str]
    faults: list[str]
    wrong: list[str]


@pytest.fixture(scope="module")
def findings(
    model: Model,
    spoilt: list[Spoilt],
    wanted: list[dict[Place, Any]],
    tmp_path_factory: pytest.TempPathFactory,
    request: pytest.FixtureRequest,
    engine: str,
) -> Findings:
    """All workbooks in LibreOffice, Gnumeric and IronCalc, a sample in the library `formulas`."""
    found = Findings(0, [], [], [])
    folder = tmp_path_factory.mktemp("spoilt")
    if engine == "formulas":
        ran = _in_formulas(model, spoilt, request.getfixturevalue("in_formulas"))
    elif engine == "ironcalc":
        ran = _in_library(model, spoilt, range(len(spoilt)), request.getfixturevalue("in_ironcalc"))
    else:
        ran = _in_program(model, spoilt, folder, engine)
    for number, cells in ran:
        book = spoilt[number]
        pasted = book.pasted(model)
        if engine == "gnumeric":
            cells = as_numbers(model, wanted[number], cells)
        cells_pasted = {"!".join(at(model, place)): value for place, value in pasted.items()}
        said = f"{book.base} {cells_pasted if len(pasted) < 4 else 'sweep'}"
        errors_pasted = {at(model, place) for place, value in pasted.items() if isinstance(value, ErrorValue)}
        found.workbooks += 1
        found.errors += [f"{said}: {line}" for line in shown_errors(cells, errors_pasted)]
        found.faults += [f"{said}: {line}" for line in faults(model, cells, pasted)]
        found.wrong += [f"{said}: {line}" for line in differences(model, wanted[number], cells)]
    return found


def _in_program(model: Model, spoilt: list[Spoilt], folder: Path, engine: str) -> Iterator[tuple[int, Any]]:
    """Each base and what is pasted into it, typed into the blank workbook, which the program opens once."""
    run = in_libreoffice if engine == "libreoffice" else in_gnumeric
    fill(model, {}, folder / "blank.xlsx")
    typed = [{**typed_case(book.base), **book.pasted(model)} for book in spoilt]
    states = [{at(model, place): value for place, value in state.items()} for state in typed]
    yield from enumerate(run(folder / "blank.xlsx", states, areas_told(model)))


def _in_formulas(model: Model, spoilt: list[Spoilt], loaded: FormulasModel) -> Iterator[tuple[int, Cells]]:
    numbers = [round(step * (len(spoilt) - 1) / (IN_FORMULAS - 1)) for step in range(IN_FORMULAS)]
    return _in_library(model, spoilt, numbers, loaded)


def _in_library(
    model: Model, spoilt: list[Spoilt], numbers: Iterable[int], loaded: FormulasModel | IronCalcModel
) -> Iterator[tuple[int, Cells]]:
    for number in numbers:
        typed = {**typed_case(spoilt[number].base), **spoilt[number].pasted(model)}
        yield number, loaded.calculate({at(model, place): value for place, value in typed.items()})


def test_bases_are_complete(model: Model) -> None:
    """Before anything is pasted, both eyes of every base release a lens."""
    for base, cells in zip(BASES, expected(model, [typed_case(base) for base in BASES]), strict=True):
        assert [by_key(model, cells, "released", eye) for eye in EYES] == [1, 1], base


def test_enough_workbooks_are_drawn(spoilt: list[Spoilt]) -> None:
    """Hypothesis gave enough different workbooks, and every kind of rubbish came up."""
    assert len(set(spoilt)) >= DRAWN + SWEEP * len(KINDS)
    assert {kind for book in spoilt for _, kind, _ in book.pastes} == set(KINDS)


def test_no_cell_shows_an_error_value(findings: Findings) -> None:
    """However spoilt the inputs are, no other cell shows an error value."""
    assert findings.workbooks >= IN_FORMULAS
    assert not findings.errors, f"{len(findings.errors)} errors\n" + "\n".join(findings.errors[:SHOWN])


def test_nothing_is_released_and_the_reason_names_the_input(findings: Findings) -> None:
    """An eye that reads a spoilt cell releases nothing, and a sentence names the cell by its label."""
    assert not findings.faults, f"{len(findings.faults)} faults\n" + "\n".join(findings.faults[:SHOWN])


def test_every_cell_is_as_the_reference_has_it(findings: Findings) -> None:
    """The judgement of rubbish is the same in the workbook and in the reference, cell by cell."""
    assert not findings.wrong, f"{len(findings.wrong)} cells differ\n" + "\n".join(findings.wrong[:SHOWN])


def test_an_error_value_can_be_written_into_an_input(
    model: Model, tmp_path: Path, computed: Callable[[Typed, Path], Cells]
) -> None:
    """A file whose typed cell holds an error value says so in every engine, and in what is stored."""
    place = model.layout.cells("eyes", "typed_axial_length")["right", "right"].place
    typed = {**typed_case("ready"), place: ErrorValue("#N/A")}
    path = tmp_path / "error.xlsx"
    fill(model, typed, path)
    wanted = expected(model, [typed])[0]
    for cells in (read_values(path), computed(typed, path)):
        assert cells[at(model, place)] == "#N/A"
        assert not differences(model, wanted, cells)


def test_the_search_for_faults_can_fail(model: Model) -> None:
    """A workbook that goes on as if nothing had been pasted is found out: a lens shown, and no sentence."""
    place = model.layout.cells("eyes", "typed_axial_length")["right", "right"].place
    clean = {at(model, cell): value for cell, value in expected(model, [typed_case("ready")])[0].items()}
    found = faults(model, clean, {place: "rubbish"})
    assert any("shows released" in fault for fault in found)
    assert any("no sentence" in fault for fault in found)
    assert shown_errors({**clean, ("Start", "A1"): "#VALUE!", ("Start", "A2"): SHOWN_ERROR}, {("Start", "A2")}) == [
        "Start!A1: #VALUE!"
    ]
