"""Files in which values stand that nobody sees: `gather` takes none of them, and `verify` names each file."""

from __future__ import annotations

from pathlib import Path

import pytest

from builder.engine.audit.verify import CHANGED, CLEAN, verify
from builder.engine.exchange.cellvalues import Cells
from builder.engine.exchange.engines import shown_on_opening
from builder.engine.layout import Place
from builder.engine.model import Model
from builder.planner.exchange.casefile import input_slots
from builder.planner.gather.lines import read_files
from builder.planner.gather.returned import typed_in
from tests.support.deceits import DECEITS, FORGED, Spots
from tests.support.filled import fill
from tests.support.hostile import pack, parts_of
from tests.support.workbooks import at, typed_case

CASE = "register-line"
EYE = "right"
READ_AS_SHOWN = {
    *("a good table in a comment", "a good table in an instruction", "a good table among letters"),
    *("a good table of another name", "a text in a comment"),
}


@pytest.fixture(scope="module")
def book(model: Model, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A filled workbook that gives lines."""
    path = tmp_path_factory.mktemp("good") / "good.xlsx"
    fill(model, typed_case(CASE), path)
    return path


@pytest.fixture(scope="module")
def spots(model: Model) -> Spots:
    """Where the copies are changed, all on one sheet."""
    typed = input_slots(model)[EYE, "axial_length"].place
    computed = next(place for place in model.compiled if place.sheet == typed.sheet)
    assert typed in typed_case(CASE)
    number = [sheet.key for sheet in model.spec.sheets].index(typed.sheet) + 1
    choice = str(typed_case(CASE)[_diagnosis(model)])
    other = next(word for word in model.spec.words.tables["choice"].values() if word not in (choice, ""))
    return Spots(f"xl/worksheets/sheet{number}.xml", typed.address, computed.address, choice, other)


def _diagnosis(model: Model) -> Place:
    return input_slots(model)[EYE, "corneal_diagnosis"].place


@pytest.fixture(scope="module")
def shown(book: Path, spots: Spots, libreoffice: str, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Cells]:
    """What LibreOffice shows of the files that it opens, all opened in one run."""
    files = {name: DECEITS[name](parts_of(book), spots) for name in sorted(READ_AS_SHOWN)}
    files |= {name: parts_of(book) | {spots.sheet: _odd(name, book, spots)} for name in SAME_IN_OTHER_WORDS}
    folder = tmp_path_factory.mktemp("shown")
    paths = [pack(parts, folder / f"{number}.xlsx") for number, parts in enumerate(files.values())]
    return dict(zip(files, shown_on_opening(paths), strict=True))


@pytest.mark.parametrize("name", sorted(DECEITS.keys() - READ_AS_SHOWN))
def test_values_that_nobody_sees_are_not_taken(name: str, book: Path, spots: Spots, tmp_path: Path) -> None:
    """Refused, after a good file of the same kind, whose sheets are known by then; verify names the file too."""
    path = pack(DECEITS[name](parts_of(book), spots), tmp_path / "sent.xlsx")
    (good, none), (lines, refusal) = read_files([book, path])
    assert good and none is None
    assert not lines and refusal is not None, "was taken"
    assert path.name in refusal.sentence and refusal.key != "broken"
    assert verify(path).verdict != CLEAN


@pytest.mark.parametrize("name", sorted(READ_AS_SHOWN))
def test_what_is_taken_is_what_a_program_shows(
    name: str, model: Model, book: Path, spots: Spots, shown: dict[str, Cells], tmp_path: Path
) -> None:
    """Well-formed files with a decoy: each typed value is what LibreOffice shows; verify judges by it."""
    path = pack(DECEITS[name](parts_of(book), spots), tmp_path / "sent.xlsx")
    typed_in(book)
    typed = typed_in(path)
    assert len(typed) > 300
    assert {place: shown[name].get(at(model, place)) for place in typed} == typed
    forged = float(FORGED) in typed.values()
    assert forged is ("table" in name)
    assert verify(path).verdict == (CHANGED if forged else CLEAN)


SAME_IN_OTHER_WORDS = {
    "an instruction in the table": lambda text: text.replace("<sheetData>", "<sheetData><?odd ?>", 1),
    "letters by their number": lambda text: text.replace("<v>2", "<v>&#50;"),
    "prefixes": lambda text: _prefixed(text),
    "a comment in a value": lambda text: text.replace("<v>2", "<v><!-- 9 -->2"),
    "letters kept apart": lambda text: text.replace("<v>2", "<v><![CDATA[2]]>"),
}


def _odd(name: str, book: Path, spots: Spots) -> bytes:
    plain = parts_of(book)[spots.sheet]
    odd = SAME_IN_OTHER_WORDS[name](plain.decode()).encode()
    assert odd != plain
    return odd


def _prefixed(text: str) -> str:
    for name in ("c", "v", "f", "row"):
        text = text.replace(f"<{name} ", f"<x:{name} ").replace(f"<{name}>", f"<x:{name}>")
        text = text.replace(f"</{name}>", f"</x:{name}>")
    return text.replace("xmlns=", 'xmlns:x="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns=', 1)


@pytest.mark.parametrize("name", SAME_IN_OTHER_WORDS)
def test_what_means_the_same_gives_the_values_that_a_program_shows(
    name: str, model: Model, book: Path, spots: Spots, shown: dict[str, Cells], tmp_path: Path
) -> None:
    """Odd ways of writing cost time only: the same lines, and LibreOffice shows what was typed."""
    path = pack(parts_of(book) | {spots.sheet: _odd(name, book, spots)}, tmp_path / "odd.xlsx")
    (good, _), (lines, refusal) = read_files([book, path])
    assert refusal is None and lines == good
    for place, value in typed_case(CASE).items():
        if isinstance(value, float) and place.sheet == input_slots(model)[EYE, "axial_length"].place.sheet:
            assert shown[name][at(model, place)] == value


def test_the_forged_number_would_be_taken(model: Model, book: Path, spots: Spots, tmp_path: Path) -> None:
    """The number of the deceits is one that a line can have, so that none of them is refused for it."""
    typed = dict(typed_case(CASE)) | {input_slots(model)[EYE, "axial_length"].place: float(FORGED)}
    fill(model, typed, tmp_path / "long.xlsx")
    lines, refusal = read_files([tmp_path / "long.xlsx"])[0]
    assert refusal is None and float(FORGED) in {line["axial_length"] for line in lines}
