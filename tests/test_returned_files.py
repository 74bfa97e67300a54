"""What gathering believes of a returned file: formulas as built, however they are written, and no stored result."""

import re
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest
from openpyxl.formula.translate import Translator

from builder.engine.exchange import gnumeric, office
from builder.engine.layout import Place
from builder.engine.model import Model
from builder.planner.exchange.casefile import input_slots
from builder.planner.gather.lines import Gathered, gather
from builder.planner.simulation.store import read_simulated
from tests.support.hostile import pack, parts_of
from tests.support.sent import with_cell, write_cases
from tests.support.workbooks import at

ROOM = 500


def _place(model: Model, key: str, eye: str = "") -> tuple[str, str]:
    owner = "eyes" if eye else "plan"
    return at(model, model.layout.cells(owner, key)[(eye, eye) if eye else ("", "plan")].place)


def _slot(model: Model, key: str, eye: str) -> Place:
    return model.layout.cells("eyes", key)[eye, eye].place


def _only(path: Path) -> str:
    """The key of the refusal of a file that gives no line."""
    found = gather([path], ROOM)
    assert not found.lines and len(found.refusals) == 1
    assert found.refusals[0].file == path.name
    return found.refusals[0].key


def test_stored_results_are_not_believed(model: Model, sent: list[Path], gathered: Gathered, tmp_path: Path) -> None:
    """A forged stored result changes nothing: the plan is computed anew."""
    first = gathered.lines[0]
    title, address = _place(model, "outcome_predicted_sphere", first["eye"])
    formula = model.compiled[_slot(model, "outcome_predicted_sphere", first["eye"])].formula
    escaped = formula.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")
    forged = with_cell(sent[0], tmp_path / "forged.xlsx", title, address, f"<f>{escaped}</f><v>99</v>")
    assert gather([forged], ROOM).lines[0] == first


@pytest.mark.parametrize("engine", ["libreoffice", "gnumeric"])
def test_files_saved_by_a_clinics_program_give_the_same_lines(
    engine: str, request: pytest.FixtureRequest, sent: list[Path], gathered: Gathered, tmp_path: Path
) -> None:
    """Opened, recalculated and saved by another program: the formulas pass and the lines are the same."""
    request.getfixturevalue(engine)
    saved = {"libreoffice": office.convert, "gnumeric": gnumeric.convert}[engine](sent[:3], tmp_path)
    found = gather(saved, ROOM)
    assert [refusal.sentence for refusal in found.refusals] == []
    assert found.lines == gathered.lines[: len(found.lines)]


def test_changed_cells_are_refused_by_name(model: Model, sent: list[Path], tmp_path: Path) -> None:
    """A formula, a constant, a formula added beside the table, a formula where a value belongs: file and cell named."""
    power, constant = _place(model, "lens_power", "right"), at(model, model.constants["population_k"])
    entry = at(model, input_slots(model)["right", "axial_length"].place)
    target = tmp_path / "sent.xlsx"
    for place, inner in (
        (power, "<f>20</f><v>20</v>"),
        (power, "<v>20</v>"),
        (constant, "<v>44</v>"),
        (constant, "<f>43+1</f><v>44</v>"),
        ((power[0], "ZZ" + re.sub(r"\D", "", power[1])), "<f>1+1</f><v>2</v>"),
        (entry, "<f>20+3</f><v>23</v>"),
    ):
        with_cell(sent[0], target, *place, inner)
        refusal = gather([target], ROOM).refusals[0]
        assert refusal.key == "changed", inner
        assert " ".join(place) in refusal.sentence


def test_a_formula_changed_anywhere_is_found(model: Model, sent: list[Path], tmp_path: Path) -> None:
    """Every four-hundredth formula made 0: each is named. Some are 0 as they are."""
    counted = [place for place, compiled in model.compiled.items() if compiled.formula != "0"]
    places = [at(model, place) for place in counted[::400]]
    files = [tmp_path / f"{number}.xlsx" for number in range(len(places))]
    for file, place in zip(files, places, strict=True):
        with_cell(sent[0], file, *place, "<f>0</f><v>0</v>")
    found = {refusal.file: refusal.sentence for refusal in gather(files, ROOM).refusals}
    for file, place in zip(files, places, strict=True):
        assert " ".join(place) in found[file.name]


def test_shared_formulas_are_read_as_written_out(model: Model, sent: list[Path], tmp_path: Path) -> None:
    """A program may keep a formula once and share it: the right one passes, a shifted one is named."""
    key, formula = next(_alike(model))
    here, there = _place(model, key, "right"), _place(model, key, "left")
    formula = formula.replace("&", "&amp;").replace("<", "&lt;")
    area = f"{here[1]}:{there[1]}"
    once = with_cell(sent[0], tmp_path / "a.xlsx", *here, f'<f t="shared" ref="{area}" si="0">{formula}</f><v>1</v>')
    good = with_cell(once, tmp_path / "b.xlsx", *there, '<f t="shared" si="0"/><v>1</v>')
    assert not gather([good], ROOM).refusals
    other = here[0], f"{there[1][0]}{int(there[1][1:]) + 1}"
    bad = with_cell(once, tmp_path / "c.xlsx", *other, '<f t="shared" si="0"/><v>1</v>')
    assert " ".join(other) in gather([bad], ROOM).refusals[0].sentence


def _alike(model: Model) -> Iterator[tuple[str, str]]:
    """Rows whose formula for the left eye is that for the right one, filled to the right."""
    for (owner, key), slots in model.layout.by_row.items():
        if owner == "eyes" and all(slot.place in model.compiled for slot in slots.values()):
            right, left = (slots[eye, eye].place for eye in ("right", "left"))
            formula = model.compiled[right].formula
            moved = Translator(f"={formula}", right.address).translate_formula(left.address)
            if moved == f"={model.compiled[left].formula}" and right.column + 1 == left.column < 3:
                yield key, formula


def test_an_odd_but_honest_sheet_is_read(sent: list[Path], gathered: Gathered, tmp_path: Path) -> None:
    """Prefixed names and a comment, as some writers have them, cost time only."""
    parts = parts_of(sent[0])
    name = "xl/worksheets/sheet2.xml"
    text = parts[name].decode()
    text = re.sub(r"<(/?)(c|f|v|row|sheetData|worksheet)(?=[\s/>])", r"<\1x:\2", text)
    text = text.replace("xmlns=", "xmlns:x=", 1).replace("<x:sheetData>", "<!-- odd --><x:sheetData>", 1)
    text = re.sub(r"<(/?)(?!x:|\?|!)(\w)", r"<\1x:\2", text)
    odd = pack(parts | {name: text.encode()}, tmp_path / "odd.xlsx")
    found = gather([odd], ROOM)
    assert [refusal.sentence for refusal in found.refusals] == []
    assert found.lines == gathered.lines[: len(found.lines)]


def test_a_decoy_cell_does_not_hide_a_changed_one(model: Model, sent: list[Path], tmp_path: Path) -> None:
    """The same address twice, once in a comment: what a program would show is what is judged."""
    title, address = _place(model, "lens_power", "right")
    formula = model.compiled[_slot(model, "lens_power", "right")].formula.replace("&", "&amp;").replace('"', "&quot;")
    line = re.sub(r"\D", "", address)
    shown, hidden = "<f>20</f><v>20</v>", f'<!-- <c r="{address}"><f>{formula}</f><v>20</v></c> -->'
    decoy = f'{shown}</c>{hidden}<c r="XFD{line}"><v>1</v>'
    assert _only(with_cell(sent[0], tmp_path / "sent.xlsx", title, address, decoy)) == "changed"


def test_other_files_are_refused_by_name(model: Model, sent: list[Path], tmp_path: Path) -> None:
    """Not ours, another edition, a plan without a visit."""
    other = tmp_path / "other.xlsx"
    book = openpyxl.Workbook()
    book.active["A1"] = "file number"
    book.save(other)
    assert _only(other) == "not_ours"
    parts = parts_of(sent[0])
    edition = model.edition.encode()
    texts = "xl/sharedStrings.xml"
    assert edition in parts[texts]
    assert _only(pack(parts | {texts: parts[texts].replace(edition, b"0.0-12345678")}, tmp_path / "old.xlsx")) == (
        "other_edition"
    )
    case = read_simulated()[0]
    for side in case.keys() - {"plan"}:
        case[side].pop("visit")
    assert _only(write_cases(model, [case], tmp_path)[0]) == "no_outcome"
