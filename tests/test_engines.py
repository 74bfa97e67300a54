"""The engines really recalculate, hand over what they computed, and refuse what they cannot do."""

import math
import random
import zipfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter

from builder.engine.exchange import engines, office
from builder.engine.exchange.cellvalues import UnreadableFile, read_values
from builder.engine.exchange.formulas_model import FormulasModel
from tests.support.typing_macro import type_into

NUMBERS = [0.1, 1 / 3, -43.123456789012345, 8.737863562245814e-10, 731271511775.1975, 1e300]
STALE = 99  # a stored result that no formula gives


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Inputs and results on two sheets, one of them named with a space; every stored result is wrong."""
    path = tmp_path_factory.mktemp("engines") / "book.xlsx"
    with xlsxwriter.Workbook(str(path)) as written:
        typed, results = written.add_worksheet("As typed"), written.add_worksheet("results")
        entry = written.add_format({"locked": False})
        typed.write_blank("A1", None, entry)
        typed.write_number("A2", 3, entry)
        typed.write_string("A3", "° – ✓", entry)
        for row, number in enumerate(NUMBERS):
            typed.write_number(row, 3, number)
            results.write_formula(row, 3, f"='As typed'!D{row + 1}*1", None, STALE)
        results.write_formula("A1", "=IF(ISNUMBER('As typed'!A1),'As typed'!A1*'As typed'!A2,\"\")", None, STALE)
        results.write_formula("A2", "=IF(ISNUMBER(A1),A1+1,'As typed'!A3&\" ▲\")", None, STALE)
        results.write_formula("A3", "=COUNT('As typed'!A1:A3)", None, STALE)
        results.write_formula("A4", "=1/0", None, STALE)
        results.write_formula("A5", "=1=1", None, STALE)
        typed.protect()
        results.protect()
    return path


def test_recalculates_and_reads_every_kind_of_value(book: Path, engine: str) -> None:
    values = engines.recalculate([book], engine)[0]
    assert [values["results", f"A{row}"] for row in range(1, 6)] == [None, "° – ✓ ▲", 1.0, "#DIV/0!", True]
    assert values["As typed", "A1"] is None
    assert values["As typed", "A3"] == "° – ✓"
    for row, number in enumerate(NUMBERS, 1):
        assert math.isclose(values["results", f"D{row}"], number, rel_tol=1e-14)


def test_order_of_many_files_is_kept(tmp_path: Path, engine: str) -> None:
    paths = [tmp_path / str(number) / "same name.xlsx" for number in range(12)]
    for number, path in enumerate(paths):
        path.parent.mkdir()
        with xlsxwriter.Workbook(str(path)) as written:
            written.add_worksheet("one").write_formula("A1", f"={number}+1", None, STALE)
    assert [values["one", "A1"] for values in engines.recalculate(paths, engine)] == list(range(1, 13))


def test_stored_and_default_opening_show_what_the_file_holds(book: Path, libreoffice: str) -> None:
    for values in engines.recalculate([book], "stored") + engines.shown_on_opening([book]):
        assert [values["results", f"A{row}"] for row in range(1, 5)] == [STALE] * 4


def test_stored_values_agree_with_openpyxl(book: Path) -> None:
    sheets = openpyxl.load_workbook(book, data_only=True).worksheets
    known = {(sheet.title, cell.coordinate): cell.value for sheet in sheets for row in sheet for cell in row}
    assert read_values(book) == {key: known[key] for key in read_values(book)}
    assert set(read_values(book)) >= {key for key, value in known.items() if value is not None}


def test_libreoffice_runs_side_by_side(book: Path, libreoffice: str) -> None:
    with ThreadPoolExecutor(2) as pool:
        first, second = pool.map(lambda _: engines.recalculate([book], libreoffice), range(2))
    assert first == second


def test_one_loaded_model_takes_many_cases(book: Path, formulas: str) -> None:
    model = FormulasModel(book)
    first = model.calculate()
    changed = model.calculate({("As typed", "A1"): 2.5})
    assert (changed["results", "A1"], changed["results", "A2"], changed["results", "A3"]) == (7.5, 8.5, 2.0)
    assert model.calculate({("As typed", "A1"): "wide"})["results", "A1"] is None
    assert model.calculate({("As typed", "A2"): None})["results", "A3"] == 0.0
    assert model.calculate({("As typed", "A2"): "#N/A"})["results", "A3"] == 0.0
    assert model.calculate() == first
    with pytest.raises(KeyError, match="no input"):
        model.calculate({("results", "A1"): 1.0})


def _chain(path: Path, typed: list[float | str | None]) -> None:
    """Formulas upon formulas upon ranges of what is typed in column A."""
    with xlsxwriter.Workbook(str(path)) as written:
        sheet = written.add_worksheet("one")
        sheet.protect()
        entry = written.add_format({"locked": False})
        for row, value in enumerate(typed):
            sheet.write(row, 0, value, entry)
            sheet.write_formula(row, 1, f'=IF(ISNUMBER(A{row + 1}),A{row + 1}^2,A{row + 1}&"!")', None, STALE)
            sheet.write_formula(row, 2, f"=SUM(B$1:B{row + 1})+COUNT(A1:A{len(typed)})", None, STALE)
            sheet.write_formula(row, 3, f'=IF(C{row + 1}>3,INDEX(C1:C{len(typed)},1,1),"few")', None, STALE)
        sheet.write_formula("E1", "=COUNTBLANK(A1:A5)+MAX(D1:D5)/MIN(A1:A5)", None, STALE)
        sheet.write_formula("E2", "=IF(ISERROR(E1),0,E1)", None, STALE)


def test_what_follows_from_a_change_is_what_the_library_computes_whole(tmp_path: Path, formulas: str) -> None:
    """States drawn with a fixed seed, typed into one loaded workbook and each written into a file of its own."""
    draw = random.Random(3)
    at_first: list[float | str | None] = [1.0, "two", None, 2.0, 0.0]
    _chain(tmp_path / "first.xlsx", at_first)
    model = FormulasModel(tmp_path / "first.xlsx")
    for number in range(12):
        typed = [draw.choice([old, 0.0, 1.0, 3.5, "x", None]) for old in at_first]
        _chain(tmp_path / f"{number}.xlsx", typed)
        whole = FormulasModel(tmp_path / f"{number}.xlsx").calculate()
        followed = model.calculate({("one", f"A{row}"): value for row, value in enumerate(typed, 1)})
        assert followed == whole, typed


def test_circular_formulas_are_refused(tmp_path: Path, formulas: str) -> None:
    path = tmp_path / "circle.xlsx"
    with xlsxwriter.Workbook(str(path)) as written:
        sheet = written.add_worksheet("one")
        sheet.write_formula("A1", "=B1+1", None, 1)
        sheet.write_formula("B1", "=A1-1", None, 0)
    with pytest.raises(office.EngineFailed, match="circle"):
        FormulasModel(path).calculate()


def test_typing_updates_what_depends_on_it_and_nothing_else(book: Path, libreoffice: str) -> None:
    untouched, typed, cleared = type_into(
        [(book, {}), (book, {("As typed", "A1"): 2.5, ("As typed", "A3"): "✓"}), (book, {("As typed", "A2"): None})]
    )
    assert untouched["results", "A1"] == STALE
    assert (typed["results", "A1"], typed["results", "A2"], typed["results", "A3"]) == (7.5, 8.5, 2.0)
    assert typed["results", "D1"] == STALE
    assert cleared["results", "A3"] == 0.0
    with pytest.raises(KeyError, match="Z99"):
        type_into([(book, {("As typed", "Z99"): 1.0})])


def test_missing_program_is_named(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    for engine, package in (("libreoffice", "libreoffice-calc-nogui"), ("gnumeric", "gnumeric")):
        assert package in (engines.missing(engine) or "")
        with pytest.raises(office.EngineMissing, match=package):
            engines.recalculate([book], engine)


def test_hostile_or_broken_files_are_refused(book: Path, tmp_path: Path) -> None:
    hostile = tmp_path / "hostile.xlsx"
    with zipfile.ZipFile(book) as source, zipfile.ZipFile(hostile, "w") as target:
        for name in source.namelist():
            data = source.read(name)
            if name == "xl/workbook.xml":
                data = data.replace(b"<workbook", b'<!DOCTYPE x [<!ENTITY a "b">]><workbook', 1)
            target.writestr(name, data)
    with pytest.raises(UnreadableFile, match="document type"):
        read_values(hostile)
    (tmp_path / "text.xlsx").write_text("no workbook")
    with pytest.raises(UnreadableFile):
        read_values(tmp_path / "text.xlsx")
