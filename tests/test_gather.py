"""Many filled workbooks become register lines: recomputed, refused by name, in order, nothing lost."""

import json
import os
import pickle
import random
import re
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest
from openpyxl.formula.translate import Translator

from builder.cli import main
from builder.exchange import gnumeric, office
from builder.exchange.casefile import input_slots, typed_cells
from builder.exchange.cellvalues import read_values
from builder.exchange.register import columns
from builder.exchange.untrusted import Refused
from builder.gather import lines as gathering
from builder.gather.lines import Gathered, gather, line_columns, line_of, read_files
from builder.layout import Place
from builder.model import REGISTER, Model, load_model
from builder.simulation.store import read_simulated
from builder.values import evaluate_cases
from tests.support.hostile import SPOILT, pack, parts_of
from tests.support.sent import with_cell, write_cases
from tests.support.workbooks import at

PERSONS = 10
ROOM = 500


@pytest.fixture(scope="module")
def sent(model: Model, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Filled workbooks of the first invented persons."""
    return write_cases(model, read_simulated()[:PERSONS], tmp_path_factory.mktemp("sent"))


@pytest.fixture(scope="module")
def gathered(sent: list[Path]) -> Gathered:
    """What gathering them gives."""
    return gather(sent, ROOM)


def _place(model: Model, key: str, eye: str = "") -> tuple[str, str]:
    owner = "eyes" if eye else "plan"
    return at(model, model.layout.cells(owner, key)[(eye, eye) if eye else ("", "plan")].place)


def _only(path: Path) -> str:
    """The key of the refusal of a file that gives no line."""
    found = gather([path], ROOM)
    assert not found.lines and len(found.refusals) == 1
    assert found.refusals[0].file == path.name
    return found.refusals[0].key


def test_the_lines_are_those_of_the_reference(model: Model, gathered: Gathered) -> None:
    """One line an eye, in the order of the files, equal to the reference of what was typed."""
    cases = read_simulated()[:PERSONS]
    values = evaluate_cases(model, [typed_cells(model, case) for case in cases])
    wanted = [line for n in range(len(cases)) for side in (0, 1) if (line := line_of(values, n, side))]
    assert not gathered.refusals
    assert gathered.lines == wanted
    assert len(wanted) == sum(len(case) - 1 for case in cases) > PERSONS
    assert all(tuple(line) == line_columns() for line in gathered.lines)


def test_a_line_holds_what_was_typed(gathered: Gathered) -> None:
    """Readings, the lens and the visit of the line are those of the invented eye itself."""
    lines = {(line["file_number"], line["eye"]): line for line in gathered.lines}
    for case in read_simulated()[:PERSONS]:
        for side in case.keys() - {"plan"}:
            typed, line = case[side], lines[case["plan"]["file_number"], side]
            visit = typed["visit"][0]
            for column in ("axial_length", "acd", "lens", "goal", "implanted_power", "implanted_cylinder"):
                assert line[column] == typed[column], column
            for column in ("day", "sphere", "cylinder", "acuity"):
                assert line[column] == pytest.approx(visit[column], abs=1e-9), column
            assert line["sphere_before"] == pytest.approx(typed["refraction_sphere"], abs=1e-9)
            assert line["ring_cylinder_after"] == pytest.approx(typed["after_steep"] - typed["after_flat"], abs=1e-9)
            assert line["status"] in ("ready", "check")


def test_several_processes_give_the_same_in_the_same_order(sent: list[Path], gathered: Gathered) -> None:
    """Files in chunks over the cores or in one go: the same lines; a bar hears of every file."""
    heard: list[int] = []
    assert gather(sent, ROOM, heard.append) == gathered
    assert sum(heard) == len(sent)
    assert [line for lines, _ in read_files(sent) for line in lines] == gathered.lines


def test_stored_results_are_not_believed(model: Model, sent: list[Path], gathered: Gathered, tmp_path: Path) -> None:
    """A forged stored result changes nothing: the plan is computed anew."""
    first = gathered.lines[0]
    title, address = _place(model, "outcome_predicted_sphere", first["eye"])
    formula = model.compiled[_slot(model, "outcome_predicted_sphere", first["eye"])].formula
    escaped = formula.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")
    forged = with_cell(sent[0], tmp_path / "forged.xlsx", title, address, f"<f>{escaped}</f><v>99</v>")
    assert gather([forged], ROOM).lines[0] == first


def _slot(model: Model, key: str, eye: str) -> Place:
    return model.layout.cells("eyes", key)[eye, eye].place


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
    """Every four-hundredth formula made 0: each is named."""
    for place in list(model.compiled)[::400]:
        target = tmp_path / "sent.xlsx"
        where = at(model, place)
        with_cell(sent[0], target, *where, "<f>0</f><v>0</v>")
        assert " ".join(where) in gather([target], ROOM).refusals[0].sentence


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


def test_each_file_ends_as_lines_or_as_a_refusal(sent: list[Path], gathered: Gathered, tmp_path: Path) -> None:
    """Good, hostile and missing files mixed: nothing is lost and the good ones are as ever."""
    bad = [
        pack(spoil(parts_of(sent[0])), tmp_path / f"bad{n}.xlsx")
        for n, (key, spoil) in enumerate(SPOILT.values())
        if key != "many_parts"
    ]
    mixed = [*sent, *bad, tmp_path / "gone.xlsx"]
    random.Random(3).shuffle(mixed)
    found = gather(mixed, ROOM)
    assert sorted(refusal.file for refusal in found.refusals) == sorted(path.name for path in {*mixed} - {*sent})
    assert {*found.sources} == {path.name for path in sent}
    in_order = sorted(found.lines, key=lambda line: (line["file_number"], line["eye"] == "left"))
    assert in_order == gathered.lines


def test_a_file_that_ends_its_process_is_named(
    sent: list[Path], gathered: Gathered, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever kills a reader, such as a lack of memory: that file is refused and no other is lost."""
    read = gathering.typed_in
    monkeypatch.setattr(gathering, "typed_in", lambda path: os._exit(1) if path == sent[2] else read(path))
    found = gather(sent, ROOM)
    assert [(refusal.key, refusal.file) for refusal in found.refusals] == [("broken", sent[2].name)]
    assert found.lines == [
        line for line, name in zip(gathered.lines, gathered.sources, strict=True) if name != sent[2].name
    ]


def test_a_refusal_can_be_handed_over() -> None:
    """From the process that read the file to the one that asked."""
    refusal = Refused("full", "a.xlsx", limit=3)
    again = pickle.loads(pickle.dumps(refusal))
    assert (again.key, again.file, again.sentence) == (refusal.key, refusal.file, refusal.sentence)


def test_an_eye_is_taken_once(sent: list[Path], gathered: Gathered) -> None:
    """The same file twice: the second is refused, with the name of the first."""
    found = gather([*sent[:3], sent[1]], ROOM)
    assert found.lines == gathered.lines[: len(found.lines)]
    assert {refusal.key for refusal in found.refusals} == {"known_eye"}
    assert all(refusal.sentence.count(sent[1].name) == 2 for refusal in found.refusals)


def test_a_full_register_refuses_by_name(sent: list[Path], gathered: Gathered) -> None:
    """Room for three lines: the files that do not fit are named."""
    found = gather(sent[:6], 3)
    assert len(found.lines) <= 3
    assert {refusal.key for refusal in found.refusals} == {"full"}
    assert {*found.sources} | {refusal.file for refusal in found.refusals} == {path.name for path in sent[:6]}


def test_the_command_writes_a_register_and_names_refusals(
    sent: list[Path], gathered: Gathered, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two good files and one that is none: a register with their lines, the refusal named, exit status 1."""
    junk = tmp_path / "junk.xlsx"
    junk.write_text("none")
    told = tmp_path / "register.xlsx"
    files = [str(path) for path in (sent[0], junk, sent[1])]
    assert main(["gather", *files, "-o", str(told), "--json"]) == 1
    summary = json.loads(capsys.readouterr().out)
    assert [refusal["file"] for refusal in summary["refusals"]] == ["junk.xlsx"]
    first = gathered.lines[: summary["lines"]]
    assert summary["files"] == 3 and len(first) >= 2
    register, stored = load_model(REGISTER), read_values(told)
    for number, line in enumerate(first):
        for key, slots in columns(register).items():
            assert stored.get(at(register, slots[number].place)) == line[key], key
    verdicts = register.layout.cells("lines", "line_verdict").values()
    counts = [stored.get(at(register, slot.place)) for slot in verdicts]
    assert counts[: len(first) + 1] == [register.spec.words.get("word", "line_counts")] * len(first) + [None]
