"""Every formula cell of every case, in three engines, against the independent reference."""

from typing import Any

import pytest

from builder.engine.exchange.cellvalues import Cells
from builder.engine.exchange.engines import recalculated_text
from builder.engine.model import Model
from tests.support.filled import fill_many
from tests.support.judged import areas_told, as_numbers, shown_errors
from tests.support.many_states import in_gnumeric, in_libreoffice
from tests.support.workbooks import at, case_files, differences, expected, typed_case

# Rows of a case where the last bit of a computed number decides a branch, each with its reason.
CLIFFS: dict[str, dict[str, str]] = {}
NAMES = ("blank", *case_files())
# The library `formulas` needs seconds a case: it has the blank workbook and those that differ most.
IN_FORMULAS = (
    "blank",
    "1-cone-both-eyes",
    "short-and-long",
    "past-the-root",
    "near-the-root",
    "after-myopic-laser",
    "after-hyperopic-laser",
    "ectasia-after-laser",
    "worked-radial-cuts",
    "oblique",
    "plus-cylinder",
    "radii-in-mm",
    "one-eye-only",
    "own-lenses",
    "own-lens-refused",
    "front-and-back",
    "total-power",
    "regression-on-ring",
    "ready-after-confirmation",
    "differs",
    "at-the-limits",
    "as-people-type",
    "register-line",
    "followup-cured-by-turning",
    "followup-five-visits",
)
AS_FILES = ("blank", *IN_FORMULAS[1::6])  # opened by the programs as files; every case is typed, as a person does
OPENED = " opened"
SHOWN = 40  # differences told of one case


@pytest.fixture(scope="module")
def results(
    model: Model, tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest, engine: str
) -> dict[str, Cells]:
    """The cells of every case as an engine computes them: typed into the blank workbook, and some read from a file."""
    typed = {name: {at(model, place): value for place, value in typed_case(name).items()} for name in NAMES}
    if engine == "formulas":
        loaded = request.getfixturevalue("in_formulas")
        return {name: loaded.calculate(typed[name]) for name in IN_FORMULAS}
    if engine == "ironcalc":
        compiled = request.getfixturevalue("in_ironcalc")
        return {name: compiled.calculate(typed[name]) for name in NAMES}
    folder = tmp_path_factory.mktemp(engine)
    books = {name: folder / f"{name}.xlsx" for name in AS_FILES}
    fill_many(model, [(typed_case(name), path) for name, path in books.items()])
    run = in_libreoffice if engine == "libreoffice" else in_gnumeric
    found: list[Any] = run(books["blank"], list(typed.values()), areas_told(model))
    if engine == "gnumeric":
        wanted = expected(model, [typed_case(name) for name in NAMES])
        found = [as_numbers(model, cells, told) for cells, told in zip(wanted, found, strict=True)]
    opened = recalculated_text(list(books.values()), engine)
    return dict(zip(NAMES, found, strict=True)) | {
        f"{name}{OPENED}": cells for name, cells in zip(books, opened, strict=True)
    }


def test_every_formula_cell_is_as_the_reference_has_it(model: Model, results: dict[str, Cells]) -> None:
    """Numbers agree to 1e-9 relative or absolute, axes to 2e-6 degrees on the circle, words exactly."""
    wrong = []
    cases = [typed_case(name.removesuffix(OPENED)) for name in results]
    for name, wanted in zip(results, expected(model, cases), strict=True):
        found = differences(model, wanted, results[name], CLIFFS.get(name, {}))
        wrong += [f"{name} | {line}" for line in found[:SHOWN]]
    assert not wrong, f"{len(wrong)} cells differ\n" + "\n".join(wrong)


def test_no_cell_shows_an_error_or_a_logical_value(results: dict[str, Cells]) -> None:
    """No case leaves an error value, TRUE or FALSE in any cell."""
    wrong = [f"{name} | {line}" for name, cells in results.items() for line in shown_errors(cells, set())]
    wrong += [
        f"{name} | {place}"
        for name, cells in results.items()
        for place, value in cells.items()
        if isinstance(value, bool)
    ]
    assert not wrong, "\n".join(wrong)


def test_an_input_changes_a_result(model: Model, results: dict[str, Cells]) -> None:
    """A case differs from the blank workbook in many cells, so its inputs did reach the engine."""
    for name in results.keys() - {"blank", f"blank{OPENED}"}:
        changed = [
            place
            for place in model.compiled
            if results[name].get(at(model, place)) != results["blank"].get(at(model, place))
        ]
        assert len(changed) > len(typed_case(name.removesuffix(OPENED))), (
            f"{name}: only {len(changed)} formula cells differ from the blank workbook"
        )


def test_each_case_says_what_it_is_about() -> None:
    """Every case file has a sentence on what it tries, and there are enough of them."""
    silent = [
        name for name, path in case_files().items() if not path.read_text(encoding="utf-8").startswith("about = ")
    ]
    assert not silent
    assert len(case_files()) >= 24
    assert len(IN_FORMULAS) > 24
