"""The outcome register: every formula cell in every engine against the reference; bad lines are left out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from builder.engine.exchange.cellvalues import Cells, read_values
from builder.engine.exchange.engines import recalculated_text
from builder.engine.layout import Place
from builder.engine.model import Model, load_model
from builder.engine.values import cell_values
from builder.engine.write.workbook import write_workbook
from builder.planner.books import REGISTER
from builder.planner.exchange.casefile import CaseError
from builder.planner.exchange.register import columns, fill_register, register_cells
from builder.planner.values import evaluate_cases
from tests.support.bad_lines import lines_with_faults
from tests.support.judged import areas_told, as_numbers
from tests.support.many_states import in_gnumeric
from tests.support.register_lines import in_the_sulcus, invented_lines
from tests.support.workbooks import at, differences, errors

SHORT = 12  # lines of a register for the slow engine
COUNTS = (0, 1, 2, 120, 500)
# The planning workbook writes its register line in this order.
KEYS = [
    "file_number", "eye", "edition", "status", "date", "corneal_diagnosis", "axial_length", "acd", "mean_k",
    "position_k", "mean_k_source", "lens", "a_constant", "surgeon_factor", "hoffer_pacd", "haigis_a0", "haigis_a1",
    "haigis_a2", "lead_formula", "goal", "implanted_power", "implanted_cylinder", "implanted_axis",
    "predicted_srkt", "predicted_holladay1", "predicted_hofferq", "predicted_haigis", "predicted_sphere",
    "predicted_cylinder", "predicted_axis", "ring_cylinder_before", "ring_axis_before", "incision_meridian",
    "incision_sia", "ring_cylinder_after", "ring_axis_after", "sphere_before", "cylinder_before", "axis_before",
    "day", "sphere", "cylinder", "axis", "acuity", "lens_axis", "predicted_t2",
    "length_rule", "predicted_as_measured", "lens_seat",
]  # fmt: skip

Case = tuple[Path, dict[Place, Any], dict[Place, Any]]  # the file, its formula cells and what is typed


def written(model: Model, registers: dict[str, dict[Place, Any]], folder: Path) -> dict[str, Case]:
    """Each register as a file, with what the reference expects in its formula cells."""
    values = evaluate_cases(model, list(registers.values()))
    made = {}
    for number, (name, typed) in enumerate(registers.items()):
        wanted = cell_values(model, values, number)
        write_workbook(model, folder / f"{name}.xlsx", wanted, typed)
        made[name] = folder / f"{name}.xlsx", wanted, typed
    return made


@pytest.fixture(scope="module")
def full() -> Model:
    return load_model(REGISTER)


@pytest.fixture(scope="module")
def short() -> Model:
    return load_model(REGISTER, lines=SHORT)


@pytest.fixture(scope="module")
def registers(full: Model, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Case]:
    """Blank, one, two, 120 and 500 lines, and one with lines that are pasted wrongly."""
    typed = {
        str(n): register_cells(full, in_the_sulcus(invented_lines(n, seed=n + 1)), "Invented eyes") for n in COUNTS
    }
    typed["faults"] = register_cells(full, lines_with_faults()[0])
    return written(full, typed, tmp_path_factory.mktemp("registers"))


def compare(model: Model, cases: dict[str, Case], engine: str) -> list[str]:
    """Cells that differ from the reference, show an error value or a logical one, in one engine: each opens every file,
    but Gnumeric opens the first and has the others typed into it."""
    wrong = []
    if engine == "gnumeric":
        found = _typed_in_gnumeric(model, cases)
    else:
        found = recalculated_text([path for path, _, _ in cases.values()], engine)
    typed_errors = {at(model, slot.place) for slots in columns(model).values() for slot in slots}
    for (name, (_, wanted, _)), cells in zip(cases.items(), found, strict=True):
        told = differences(model, wanted, cells) + errors(cells, typed_errors)
        told += [f"{place}: logical" for place, v in cells.items() if isinstance(v, bool) and place not in typed_errors]
        wrong += [f"{name} | {line}" for line in told[:20]]
    return wrong


def _typed_in_gnumeric(model: Model, cases: dict[str, Case]) -> list[Cells]:
    first, _, typed_first = next(iter(cases.values()))
    emptied = dict.fromkeys(typed_first)
    states = [
        {at(model, place): value for place, value in {**emptied, **typed}.items()} for _, _, typed in cases.values()
    ]
    seen = in_gnumeric(first, states, areas_told(model))
    return [as_numbers(model, wanted, texts) for (_, wanted, _), texts in zip(cases.values(), seen, strict=True)]


@pytest.mark.parametrize("program", ["libreoffice", "gnumeric"])
def test_every_cell_of_the_register(
    full: Model, registers: dict[str, Case], program: str, request: pytest.FixtureRequest
) -> None:
    """Numbers agree to 1e-9 relative or absolute, axes to 2e-6 degrees on the circle, words exactly."""
    request.getfixturevalue(program)
    wrong = compare(full, registers, program)
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("library", ["formulas", "ironcalc"])
def test_every_cell_of_a_short_register_in_a_library(
    short: Model, tmp_path: Path, library: str, request: pytest.FixtureRequest
) -> None:
    """The same with twelve lines, two of them spoilt and one eye twice."""
    request.getfixturevalue(library)
    lines = invented_lines(SHORT, seed=2)
    lines[3] |= {"mean_k": "43,5"}
    lines[5] |= {"cylinder": True}
    lines[7] = dict(lines[6])
    wrong = compare(short, written(short, {"short": register_cells(short, lines)}, tmp_path), library)
    assert not wrong, "\n".join(wrong)


def test_stored_values_are_what_the_reference_says(full: Model, registers: dict[str, Case]) -> None:
    """A preview that computes nothing shows the right values."""
    for name in ("0", "120", "faults"):
        path, wanted, _ = registers[name]
        assert not differences(full, wanted, read_values(path))


def by_line(model: Model, wanted: dict[Place, Any], key: str) -> list[Any]:
    return [wanted[slot.place] for slot in model.layout.cells("lines", key).values()]


def test_each_line_is_judged_in_words(full: Model, registers: dict[str, Case]) -> None:
    """A spoilt line is left out and told its first fault and column; the others count."""
    lines, told = lines_with_faults()
    wanted = registers["faults"][1]
    reasons, verdicts = (by_line(full, wanted, key) for key in ("line_reason", "line_verdict"))
    for n, reason in enumerate(told):
        if reason:
            assert (verdicts[n], reasons[n]) == ("LEFT OUT", reason)
        else:
            assert verdicts[n] == "counts" and reasons[n].startswith("complete"), (n, reasons[n])
    assert set(verdicts[len(lines) :]) == {None}
    assert wanted[full.layout.cells("plan", "lines_left_out")["", "plan"].place] == sum(map(bool, told))


def test_a_line_left_out_changes_no_statistic(full: Model, registers: dict[str, Case]) -> None:
    """Without its bad lines the register has the same results."""
    lines, told = lines_with_faults()
    sound = [line for line, reason in zip(lines, told, strict=True) if not reason]
    wanted = registers["faults"][1]
    alone = cell_values(full, evaluate_cases(full, [register_cells(full, sound)]))
    for name in ("series", "diagnoses", "bands", "periods", "clouds"):
        slots = [slot for (owner, _), row in full.layout.by_row.items() if owner == name for slot in row.values()]
        for slot in slots:
            if slot.place in alone:
                assert wanted[slot.place] == alone[slot.place], slot.row.key


def test_few_eyes_give_words(full: Model, registers: dict[str, Case]) -> None:
    """No eye, one and two: words for what cannot be said yet."""
    said = {}
    for name in ("0", "1", "2"):
        wanted = registers[name][1]
        said[name] = [
            wanted[full.layout.cells("plan", key)["", "plan"].place]
            for key in ("enough_said", "mean_said", "type_next")
        ]
    assert said["0"][0] == "no eye yet" and said["0"][2].startswith("Paste the lines")
    assert said["1"][0].startswith("too few eyes") and said["1"][1] == "no mean error yet"
    assert said["2"][1] != "no mean error yet"


def test_the_columns_and_their_order(full: Model) -> None:
    """Exactly the columns that the planning workbook's register line has, in its order, side by side."""
    first = {key: slots[0].place for key, slots in columns(full).items()}
    assert list(first) == KEYS
    places = list(first.values())
    assert [place.column for place in places] == list(range(places[0].column, places[0].column + len(KEYS)))
    assert {place.line for place in places} == {places[0].line}
    assert all(len(slots) == 500 for slots in columns(full).values())


def test_filling_refuses_what_has_no_place(short: Model, tmp_path: Path) -> None:
    """An unknown key and a line too many are mistakes of the caller; nothing is written."""
    path = tmp_path / "register.xlsx"
    with pytest.raises(CaseError, match="'axial_lenght': is no column of a line; did you mean 'axial_length'"):
        fill_register(short, [{"axial_lenght": 24.0}], path)
    with pytest.raises(CaseError, match="room for 12"):
        fill_register(short, invented_lines(13), path)
    assert not path.exists()


def test_lines_are_alike(full: Model) -> None:
    """A formula copied down is the formula of its own line: the compiled cells of line 1 and 500 differ in it alone."""
    first, last = "line1", "line500"
    for (owner, key), slots in full.layout.by_row.items():
        if owner != "lines" or slots["", first].place not in full.compiled or slots["", first].row.formulas:
            continue
        here, there = slots["", first].place, slots["", last].place
        assert f"{there.line - here.line}" == "499", key
        moved = full.compiled[there].formula
        assert moved != full.compiled[here].formula or "8" not in moved, key
