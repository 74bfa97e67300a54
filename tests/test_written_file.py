"""The file itself: locked but for its inputs, nothing hidden, nothing that runs or reaches out."""

import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from builder.engine.formula.dialect import TEXT
from builder.engine.model import Model
from builder.engine.spec.model import Input
from tests.support.filled import fill_many
from tests.support.workbooks import at, case_files, typed_case

NAMES = ("blank", next(name for name, path in case_files().items() if path.parent.parent.name == "specs"), "own-lenses")


@pytest.fixture(scope="module", params=NAMES)
def path(request: pytest.FixtureRequest, model: Model, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A blank and two filled workbooks."""
    path = tmp_path_factory.mktemp("written") / f"{request.param}.xlsx"
    fill_many(model, [(typed_case(request.param), path)])
    return path


@pytest.fixture(scope="module")
def book(path: Path) -> Any:
    """The workbook as openpyxl reads it."""
    return openpyxl.load_workbook(path)


def _parts(path: Path) -> dict[str, str]:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name).decode("utf-8", "replace") for name in archive.namelist()}


def _cells(book: Any) -> Iterator[Any]:
    return (cell for sheet in book for row in sheet.iter_rows() for cell in row)


def _input_places(model: Model) -> dict[tuple[str, str], Input]:
    return {at(model, slot.place): slot.row.input for slot in model.layout.slots if slot.row.input is not None}


def test_only_inputs_are_unlocked(model: Model, book: Any) -> None:
    """Every cell is locked but the typed ones, and no column or row unlocks its empty cells."""
    unlocked = {(cell.parent.title, cell.coordinate) for cell in _cells(book) if not cell.protection.locked}
    assert unlocked == set(_input_places(model))
    for sheet in book:
        sizes = [*sheet.column_dimensions.values(), *sheet.row_dimensions.values()]
        assert all(size.protection.locked for size in sizes)


def test_every_sheet_is_protected_without_a_password(book: Any) -> None:
    """Locks prevent accidents; there is no secret."""
    for sheet in book:
        assert sheet.protection.sheet, sheet.title
        assert sheet.protection.password is None, sheet.title
        assert not sheet.protection.selectUnlockedCells, sheet.title


def test_structure_is_locked(book: Any) -> None:
    """No sheet can be moved, renamed or deleted by accident."""
    assert book.security.lockStructure


def test_nothing_is_merged_or_hidden(book: Any) -> None:
    """No merged cells, and no hidden sheet, row, column or formula."""
    for sheet in book:
        assert not sheet.merged_cells.ranges, sheet.title
        assert sheet.sheet_state == "visible", sheet.title
        hidden = [
            key
            for sizes in (sheet.column_dimensions, sheet.row_dimensions)
            for key, size in sizes.items()
            if size.hidden or size.outlineLevel or 0 in (getattr(size, "width", 1), getattr(size, "ht", 1))
        ]
        assert not hidden, f"{sheet.title}: {hidden}"
    assert not [cell.coordinate for cell in _cells(book) if cell.protection.hidden]


def test_nothing_runs_or_reaches_out(path: Path, book: Any) -> None:
    """No macros, links to other files, connections or embedded objects."""
    parts = r"externalLink|vba|connection|queryTable|embeddings|activeX|ctrlProp|customXml"
    assert not [name for name in _parts(path) if re.search(parts, name)]
    for name, part in _parts(path).items():
        assert 'TargetMode="External"' not in part, name
    for cell in _cells(book):
        assert cell.data_type != "f" or "[" not in TEXT.sub("", cell.value), f"{cell.parent.title}!{cell.coordinate}"


def test_only_print_titles_are_named(book: Any) -> None:
    """No defined names but the rows repeated on each printed page."""
    assert not list(book.defined_names)
    for sheet in book:
        assert set(sheet.defined_names) <= {"_xlnm.Print_Titles", "Print_Titles"}, sheet.title
        assert (sheet.print_title_rows or "").startswith("$1:"), sheet.title


def test_title_and_language_are_set(model: Model, book: Any) -> None:
    """A screen reader and a list of files have what they need; no person or clock is in the properties."""
    assert book.properties.title == model.spec.words.get("text", "plan_title")
    assert book.properties.language == "en"
    assert not book.properties.creator
    assert book.properties.created == book.properties.modified


def test_every_input_has_its_rule(model: Model, book: Any) -> None:
    """A choice has the list of its words, a lens that of the lens names, a number its limits, a text its length."""
    rules = {
        (sheet.title, cell): rule
        for sheet in book
        for rule in sheet.data_validations.dataValidation
        for area in rule.sqref.ranges
        for row in area.rows
        for cell in (_address(place) for place in row)
    }
    assert set(rules) == set(_input_places(model))
    kinds = {"choice": "list", "listed": "list", "number": "decimal", "date": "decimal"}
    for place, item in _input_places(model).items():
        rule = rules[place]
        assert rule.type == kinds.get(item.type, "textLength"), place
        assert rule.showErrorMessage and rule.error, place
        if item.type == "choice":
            words = [model.spec.words.get("choice", choice) for choice in item.choices]
            assert rule.formula1 == '"' + ",".join(words) + '"', place
            assert not rule.showDropDown, place  # the format's flag hides the arrow
        elif item.type in ("number", "date"):
            assert rule.formula1 and rule.formula2, place


def _address(place: tuple[int, int]) -> str:
    return f"{openpyxl.utils.get_column_letter(place[1])}{place[0]}"


def test_every_formula_is_as_compiled_and_stores_a_value(model: Model, path: Path, book: Any) -> None:
    """The formulas are those of the specs, no more and no fewer, each with a stored value that is no TRUE or FALSE."""
    written = {(cell.parent.title, cell.coordinate): cell.value for cell in _cells(book) if cell.data_type == "f"}
    assert written == {at(model, place): "=" + compiled.formula for place, compiled in model.compiled.items()}
    cells = [
        cell
        for name, part in _parts(path).items()
        if name.startswith("xl/worksheets/sheet")
        for cell in re.findall(r"<c [^>]*>(?:(?!</c>).)*<f>.*?</c>", part, re.S)
    ]
    assert len(cells) == len(written)
    assert not [cell for cell in cells if "<v>" not in cell and "<v/>" not in cell]
    assert not [cell for cell in cells if re.match(r'<c [^>]*t="[be]"', cell)]


def test_typed_cells_hold_what_was_typed(model: Model, path: Path, book: Any) -> None:
    """Filling writes the inputs of the case and nothing else into unlocked cells."""
    typed = {at(model, place): value for place, value in typed_case(path.stem).items()}
    for sheet, address in _input_places(model):
        held = book[sheet][address].value
        held = held if not hasattr(held, "year") else openpyxl.utils.datetime.to_excel(held)
        assert held == typed.get((sheet, address)), f"{sheet}!{address}"


def test_the_formula_list_holds_every_formula_of_a_row(model: Model, book: Any) -> None:
    """Where instances of a row differ, each of their formulas stands in it with the instance and the cell it is of."""
    rows = [[cell.value for cell in row] for row in book["Formula list"].iter_rows(min_row=6)]
    told = {(line[4].partition(":")[0], line[2], i, line[8]) for line in rows if line[0] for i in line[4].split()}
    differing = 0
    for slot in model.layout.slots:
        owner, row = slot.block.instances, slot.row
        if slot.instance in row.formulas and slot.side != "left" and "@" not in row.formulas[slot.instance]:
            formula = row.formulas[slot.instance]
            assert (owner.name, row.key, slot.instance, formula) in told or (
                len(owner.keys) >= 20 and (owner.name, row.key, owner.name, formula) in told
            ), slot
            differing += 1
    assert differing > 800
