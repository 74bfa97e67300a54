"""The Spanish workbooks: every cell as the reference has it, and read back in English."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from builder.cli import main
from builder.engine.audit.verify import CHANGED, CLEAN, verify
from builder.engine.compare.changes import changes
from builder.engine.compare.old import open_old
from builder.engine.editions import store
from builder.engine.exchange.engines import recalculate, recalculated_text
from builder.engine.exchange.language import language_of, values_in_english
from builder.engine.layout import Place
from builder.engine.model import Model, load_model
from builder.engine.spec.words import ENGLISH
from builder.planner.books import PLAN, REGISTER
from builder.planner.build import build_book
from builder.planner.exchange.casefile import input_slots, read_case
from builder.planner.exchange.register import columns, register_cells
from builder.planner.gather.lines import read_files
from builder.planner.reading import read_workbook
from builder.planner.simulation.register import simulated_lines
from tests.support.filled import fill_many
from tests.support.judged import areas_told, as_numbers
from tests.support.many_states import in_gnumeric
from tests.support.workbooks import at, case_files, differences, errors, expected

SPANISH = "es"
NAMES = ("blank", "1-cone-both-eyes", "own-lenses", "as-people-type", "followup-five-visits")
DEMO = NAMES[1]


@pytest.fixture(scope="module")
def spanish() -> Model:
    return load_model(PLAN, SPANISH)


@pytest.fixture(scope="module")
def typed(spanish: Model) -> dict[str, dict[Place, Any]]:
    return {name: {} if name == "blank" else read_case(spanish, case_files()[name]) for name in NAMES}


@pytest.fixture(scope="module")
def files(spanish: Model, typed: dict[str, dict[Place, Any]], tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("libros")
    paths = [folder / f"{name}.xlsx" for name in NAMES]
    fill_many(spanish, list(zip(typed.values(), paths, strict=True)))
    return paths


@pytest.fixture(scope="module")
def english_demo(model: Model, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("books") / "demo.xlsx"
    fill_many(model, [(read_case(model, case_files()[DEMO]), path)])
    return path


@pytest.mark.parametrize("engine_", ["libreoffice", "gnumeric"])
def test_every_formula_cell_is_as_the_reference_has_it(
    spanish: Model, typed: dict[str, dict[Place, Any]], files: list[Path], engine_: str, request: pytest.FixtureRequest
) -> None:
    """As tests/test_three_engines.py has it in English, and no error value anywhere."""
    request.getfixturevalue(engine_)
    wanted = expected(spanish, list(typed.values()))
    if engine_ == "gnumeric":  # opens the blank workbook, into which the others are typed
        states = [{at(spanish, place): value for place, value in case.items()} for case in typed.values()]
        seen = in_gnumeric(files[0], states, areas_told(spanish))
        found = [as_numbers(spanish, cells, texts) for cells, texts in zip(wanted, seen, strict=True)]
    else:
        found = recalculated_text(files, engine_)
    wrong = [
        f"{name} | {line}"
        for name, cells, values in zip(NAMES, found, wanted, strict=True)
        for line in (*differences(spanish, values, cells), *errors(cells))
    ]
    assert not wrong, "\n".join(wrong[:40])


def test_what_a_case_types_is_english_and_the_file_shows_spanish(spanish: Model, files: list[Path]) -> None:
    place = input_slots(spanish)["right", "corneal_diagnosis"].place
    cells = recalculate([files[NAMES.index(DEMO)]], "stored")[0]
    assert cells[at(spanish, place)] == "queratocono"
    assert language_of({sheet for sheet, _ in cells}) == SPANISH


def test_reading_gives_the_same_numbers_words_and_sentences_as_of_the_english_file(
    files: list[Path], english_demo: Path
) -> None:
    found, wanted = read_workbook(files[NAMES.index(DEMO)]), read_workbook(english_demo)
    assert found.pop("edition") == load_model(PLAN, SPANISH).edition
    assert wanted.pop("edition") == load_model().edition
    assert found == wanted
    assert found["right"]["status"] == "ready"
    assert found["left"]["reasons"][0].startswith("LEFT EYE")


def test_words_of_another_edition_are_read_in_english_by_their_text(spanish: Model, files: list[Path]) -> None:
    """Sentences stay as they are; no word of a drop-down, a state or a verdict does."""
    cells = dict(recalculate([files[NAMES.index(DEMO)]], "stored")[0])
    edition = at(spanish, spanish.layout.cells("plan", "edition_code")["", "plan"].place)
    cells[edition] = "0.0.1-00000000"
    found = values_in_english(cells)
    status = at(spanish, spanish.layout.cells("eyes", "status")["left", "left"].place)
    diagnosis = at(spanish, input_slots(spanish)["left", "corneal_diagnosis"].place)
    assert (cells[status], found[status]) == ("revisar", "check")
    assert (cells[diagnosis], found[diagnosis]) == ("queratocono", "keratoconus")


def test_verify_knows_the_spanish_edition(spanish: Model, files: list[Path], tmp_path: Path) -> None:
    report = verify(files[NAMES.index(DEMO)])
    assert (report.edition, report.verdict, report.findings) == (spanish.edition, CLEAN, ())
    shown = spanish.layout.cells("eyes", "status")["right", "right"].place
    other = tmp_path / "stale.xlsx"
    typed = read_case(spanish, case_files()[DEMO])
    typed[input_slots(spanish)["right", "axial_length"].place] = 24.99
    fill_many(spanish, [(typed, other)])
    assert verify(other).verdict == CLEAN
    assert shown in spanish.compiled
    assert verify(_with_stored(files[NAMES.index(DEMO)], tmp_path / "changed.xlsx")).verdict == CHANGED


def _with_stored(path: Path, target: Path) -> Path:
    """A copy in which a text that many cells share was changed."""
    import zipfile

    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    texts = parts["xl/sharedStrings.xml"]
    assert texts.count(b"Longitud axial<") == 1
    parts["xl/sharedStrings.xml"] = texts.replace(b"Longitud axial<", b"Longitud total<")
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return target


def test_gathering_gives_the_lines_of_the_english_file(files: list[Path], english_demo: Path) -> None:
    (found, refusal), (wanted, _) = read_files([files[NAMES.index(DEMO)], english_demo])
    assert refusal is None
    assert wanted
    assert found == wanted


def test_sentences_have_a_decimal_comma_throughout(spanish: Model, files: list[Path]) -> None:
    """As number cells have in an office of Spain; formulas and numbers of papers are no sentences."""
    lists = {spanish.spec.sheet_title(sheet.key) for sheet in spanish.spec.sheets if sheet.generated == "list"}
    cells = recalculate([files[NAMES.index(DEMO)]], "stored")[0]
    texts = [value for (title, _), value in cells.items() if isinstance(value, str) and title not in lists]
    assert sum(bool(re.search(r"[0-9],[0-9]", text)) for text in texts) > 100
    assert [
        text for text in texts if re.search(r"(?<![0-9.])[0-9]+\.[0-9]+(?![0-9.])", text) and "doi" not in text
    ] == []


def test_fill_writes_spanish_on_demand(tmp_path: Path) -> None:
    path = tmp_path / "libro.xlsx"
    assert main(["fill", str(case_files()[DEMO]), "--language", SPANISH, "-o", str(path)]) == 0
    titles = {sheet for sheet, _ in recalculate([path], "stored")[0]}
    assert {"Inicio", "Medidas", "Quirófano derecho"} <= titles


def test_the_mark_stands_on_the_first_sheet_and_in_the_properties(spanish: Model, files: list[Path]) -> None:
    from openpyxl import load_workbook

    book = load_workbook(files[0], read_only=True)
    first = [str(cell.value) for line in book.worksheets[0].iter_rows() for cell in line if cell.value]
    assert any("SIN REVISOR MÉDICO NATIVO" in text for text in first)
    assert "sin revisor médico nativo" in str(book.properties.subject)
    assert book.properties.language == SPANISH


def test_the_spanish_register_counts_every_simulated_eye(libreoffice: str, tmp_path: Path) -> None:
    """Drop-downs, states and the edition of the Spanish lines are those that the Spanish register takes."""
    model = load_model(REGISTER, SPANISH)
    _, demo = build_book(REGISTER, SPANISH, tmp_path, demo=True).files[:2]
    cells = recalculated_text([demo], libreoffice)[0]
    value = lambda key: cells[at(model, model.layout.cells("plan", key)["", "plan"].place)]  # noqa: E731
    assert value("lines_counted") == value("lines_filled") == len(simulated_lines(load_model()))
    assert value("lines_other_edition") == 0
    wanted = expected(
        model, [register_cells(model, simulated_lines(load_model(PLAN, SPANISH)), "SIMULADO, ojos inventados")]
    )
    assert not differences(model, wanted[0], cells)


def test_a_line_in_english_words_fits_the_spanish_register() -> None:
    model = load_model(REGISTER, SPANISH)
    slots = columns(model)
    line = {"eye": "left", "corneal_diagnosis": "keratoconus", "lead_formula": "Haigis"}
    found = register_cells(model, [line])
    assert [found[slots[key][0].place] for key in line] == ["izquierdo", "queratocono", "Haigis"]


def test_the_editions_of_the_languages_are_kept_apart(spanish: Model, tmp_path: Path) -> None:
    """Each language has its current edition, and the release of one is no released version of the other."""
    assert store.write_current(spanish, tmp_path) != store.write_current(load_model(), tmp_path)
    store.release(load_model(), tmp_path)
    store.release(spanish, tmp_path)
    assert set(store.released(tmp_path)) == {spanish.edition, load_model().edition}
    assert store.load_edition(spanish.edition, tmp_path).language == SPANISH
    assert store.load_edition(load_model().edition, tmp_path).language == ENGLISH
    assert not store.faults(spanish, tmp_path)


def test_a_spanish_workbook_is_compared_with_the_spanish_edition(spanish: Model, files: list[Path]) -> None:
    """Its constants, units and formulas by name are those of the edition; only texts outside the rows are not known."""
    old = open_old(str(files[0]), spanish.spec)
    assert (old.language, old.edition) == (SPANISH, spanish.edition)
    found = changes(old, store.edition_of_model(spanish))
    assert [change for change in found if change.kind != "message"] == []
