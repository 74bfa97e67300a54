"""Many filled workbooks become register lines: in order, an eye once, nothing lost."""

import json
import os
import pickle
import random
from pathlib import Path

import pytest

from builder.cli import main
from builder.engine.exchange.cellvalues import read_values
from builder.engine.exchange.untrusted import Refused
from builder.engine.model import Model, load_model
from builder.planner.books import REGISTER
from builder.planner.exchange.casefile import typed_cells
from builder.planner.exchange.register import columns
from builder.planner.gather import lines as gathering
from builder.planner.gather.lines import Gathered, gather, line_columns, line_of, read_files
from builder.planner.simulation.store import read_simulated
from builder.planner.values import evaluate_cases
from tests.support.hostile import SPOILT, pack, parts_of
from tests.support.sent import PERSONS
from tests.support.workbooks import at

ROOM = 500


def test_the_lines_are_those_of_the_reference(model: Model, gathered: Gathered) -> None:
    """One line an eye, in the order of the files, equal to the reference of what was typed."""
    cases = read_simulated()[:PERSONS]
    values = evaluate_cases(model, [typed_cells(model, case) for case in cases])
    wanted = [line for n in range(len(cases)) for eye in ("right", "left") if (line := line_of(model, values, n, eye))]
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
