"""Mistakes in case files and workbooks that come back, and what each command answers to the shell."""

import json
from pathlib import Path

import pytest
import xlsxwriter

from builder.cli import main
from builder.engine.exchange.engines import recalculate
from builder.engine.model import Model
from builder.planner import build as building
from tests.support.workbooks import case_files, typed_case

TOLD, DIFFERENT, WELL = 2, 1, 0

MISTAKES = {  # what the file says: (key, what is wrong, what is near or to do)
    "[right]\naxial_lenght = 24\n": ("right.axial_lenght", "is no input", "did you mean 'axial_length'?"),
    "[plan]\nqqqq = 1\n": ("plan.qqqq", "is no input", "no known name is close"),
    "[rigth]\naxial_length = 24\n": ("rigth", "is no table", "did you mean 'right'?"),
    "right = 3\n": ("right", "is not a table", "write [right]"),
    "[right]\naxial_length = [24, 25]\n": ("right.axial_length", "is a list or table", "give one value"),
    "[plan]\ndate = 2026-01-01T10:00:00\n": ("plan.date", "holds a time of day", "give a date alone"),
    "[expct.right]\nstate = 'ready'\n": ("expct", "is no table", "did you mean 'expect'?"),
    "expect = 3\n": ("expect", "is not a table", "write [expect.right]"),
    "[expect.rihgt]\nstate = 'ready'\n": ("expect.rihgt", "is no eye", "did you mean 'right'?"),
    "[expect]\nleft = 1\n": ("expect.left", "is not a table", "write [expect.left]"),
    "[expect.left]\npwoer = 20\n": ("expect.left.pwoer", "is nothing one expects", "did you mean 'power'?"),
    "[right\n": ("syntax", "", "mend the line"),
    "[right]\ngoal = -0.5\ngoal = -1\n": ("syntax", "overwrite", "mend the line"),
    "[lens]\nname = 'x'\n": ("lens", "is not a list of lenses", "write [[lens]]"),
    "[[lens]]\na_constnt = 118\n": ("lens.a_constnt", "is no input", "did you mean 'a_constant'?"),
    "[[lens]]\ncylinders = 3\n": ("lens.cylinders", "is not a list", "square brackets"),
    "[[lens]]\nname = 'x'\n" * 7: ("lens", "holds 7 lenses", "room for 6"),
    "[[lens]]\ncylinders = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13]\n": ("lens.cylinders[13]", "is no input", ""),
}


@pytest.mark.parametrize("text", MISTAKES)
def test_a_mistake_in_a_case_file_is_told(text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The sentence names file, key, what is wrong and the near key; nothing is written; the answer is 2."""
    key, wrong, todo = MISTAKES[text]
    case, made = tmp_path / "mistaken.toml", tmp_path / "made.xlsx"
    case.write_text(text, encoding="utf-8")
    assert main(["fill", str(case), "-o", str(made)]) == TOLD
    told = capsys.readouterr().err
    assert told.startswith(f"mistaken.toml, '{key}': ")
    assert wrong in told and todo in told
    assert not made.exists()


def test_a_missing_case_file_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A case file that is not there, or is no text, is told by its name."""
    (tmp_path / "binary.toml").write_bytes(b"\xff\xfe\x00")
    for name in ("absent.toml", "binary.toml"):
        assert main(["fill", str(tmp_path / name), "-o", str(tmp_path / "made.xlsx")]) == TOLD
        assert name in capsys.readouterr().err
    assert not (tmp_path / "made.xlsx").exists()


def test_fill_types_what_the_file_says(model: Model, tmp_path: Path) -> None:
    """Values that the workbook will refuse are no mistakes of a case file: they are typed, and read back as typed."""
    made = tmp_path / "made.xlsx"
    assert main(["fill", str(case_files()["refused-readings"]), "-o", str(made)]) == WELL
    cells = recalculate([made], "stored")[0]
    for place, value in typed_case("refused-readings").items():
        assert cells[model.at(place)] == value


@pytest.mark.parametrize("kind", ["absent", "no workbook", "another workbook"])
def test_a_file_that_is_not_ours_is_told(kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Reading a file that is missing, no workbook or another workbook answers 2 and names the file."""
    path = tmp_path / "strange.xlsx"
    if kind == "no workbook":
        path.write_text("text", encoding="utf-8")
    elif kind == "another workbook":
        with xlsxwriter.Workbook(str(path)) as book:
            book.add_worksheet().write_string("A1", "sheet")
    assert main(["read", str(path), "--json"]) == TOLD
    out, err = capsys.readouterr()
    assert "strange.xlsx" in err
    assert not out


def test_read_prints_inputs_and_results(tmp_path: Path, capsys: pytest.CaptureFixture[str], model: Model) -> None:
    """One JSON object with edition, plan and eyes: inputs as typed, results, reasons; plain lines without --json."""
    made = tmp_path / "made.xlsx"
    main(["fill", str(case_files()["ready"]), "-o", str(made)])
    capsys.readouterr()
    assert main(["read", str(made), "--json"]) == WELL
    found = json.loads(capsys.readouterr().out)
    assert found["edition"] == model.edition
    assert (found["plan"]["date"], found["right"]["axial_length"], found["right"]["status"]) == (
        "2026-01-15",
        23.5,
        "ready",
    )
    assert (found["right"]["released"], found["right"]["reasons"], found["left"]["lens"]) == (1, [], "Example Heron")
    assert found["right"]["options"][0]["cylinder"] == 0
    assert main(["read", str(made)]) == WELL
    assert "right.status = ready" in capsys.readouterr().out


@pytest.mark.parametrize(
    "arguments", [[], ["fly"], ["read"], ["fill", "case.toml"], ["read", "x.xlsx", "--engine", "abacus"]]
)
def test_a_wrong_command_line_ends_with_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """An unknown command, a missing argument or an unknown engine shows the usage and answers 2."""
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == TOLD
    assert "usage:" in capsys.readouterr().err


@pytest.mark.parametrize(("lines", "answer"), [([], WELL), (["x.xlsx is missing"], DIFFERENT)])
def test_check_answers_by_what_it_finds(
    lines: list[str], answer: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """check answers 0 when output/ is what the specs build, and 1 with each difference on a line."""
    monkeypatch.setattr(building, "check", lambda: building.Checked([], lines))
    assert main(["check"]) == answer
    told = capsys.readouterr().out.splitlines()
    assert told == lines or (not lines and "agree" in told[0])
