"""An outcome register against its edition: planted changes are found and named, what programs do when saving is not."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from builder.engine.audit import expected
from builder.engine.audit.formulas import same_formula
from builder.engine.audit.quick import changed_formulas
from builder.engine.audit.verify import CHANGED, CLEAN, REFUSED, verify
from builder.engine.editions import edition_of_model
from builder.engine.exchange import gnumeric, office
from builder.engine.model import Model, load_model
from builder.engine.spec.words import ENGLISH
from builder.planner.books import REGISTER
from builder.planner.build import OUTPUT
from builder.planner.exchange.register import fill_register
from tests.support.hostile import Parts, pack, parts_of
from tests.support.in_memory import report_on
from tests.support.plants import Copy
from tests.support.plants_in_register import IN_REGISTER
from tests.support.register_lines import invented_lines

SHORT = 12  # lines of the registers of most tests
LANGUAGES = (ENGLISH, "es")


@pytest.fixture(scope="module")
def short() -> Model:
    return load_model(REGISTER, lines=SHORT)


def _filled(folder: Path, language: str = ENGLISH, lines: int | None = SHORT) -> Path:
    """A register with ten lines, one of them spoilt and one eye twice."""
    eyes = invented_lines(10, seed=4)
    eyes[3] |= {"mean_k": "43,5"}
    eyes[7] = dict(eyes[6])
    path = folder / f"register-{language}.xlsx"
    fill_register(load_model(REGISTER, language, lines=lines), eyes, path, "Invented eyes")
    return path


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Parts:
    return parts_of(_filled(tmp_path_factory.mktemp("registers")))


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_filled_register_is_clean(language: str, tmp_path: Path) -> None:
    """Typed lines are no change; no finding at all, notes neither."""
    report = verify(_filled(tmp_path, language), SHORT)
    assert (report.verdict, report.findings) == (CLEAN, ()), "\n".join(report.lines())
    assert report.edition == load_model(REGISTER, language, lines=SHORT).edition


@pytest.mark.parametrize("name", ["outcome-register-demo.xlsx", "registro-de-resultados.xlsx"])
def test_the_register_as_it_is_given_out_is_clean(name: str) -> None:
    """All its lines, in both languages, and the quick question too."""
    report = verify(OUTPUT / name)
    assert (report.verdict, report.findings) == (CLEAN, ()), "\n".join(report.lines())
    assert not changed_formulas(OUTPUT / name)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("program", ["libreoffice", "gnumeric"])
def test_a_register_saved_by_a_program_is_clean(
    program: str, language: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    """A round trip changes nothing of meaning, although functions get newer names and sheets lose their quotes."""
    request.getfixturevalue(program)
    convert = {"libreoffice": office.convert, "gnumeric": gnumeric.convert}[program]
    report = verify(convert([_filled(tmp_path, language)], tmp_path)[0], SHORT)
    assert report.verdict == CLEAN, "\n".join(report.lines())


@pytest.mark.parametrize("program", ["libreoffice", "gnumeric"])
def test_a_whole_register_saved_by_a_program_is_clean(
    program: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    """The same with all its lines: the demo."""
    request.getfixturevalue(program)
    convert = {"libreoffice": office.convert, "gnumeric": gnumeric.convert}[program]
    report = verify(convert([OUTPUT / "outcome-register-demo.xlsx"], tmp_path)[0])
    assert report.verdict == CLEAN, "\n".join(report.lines())


@pytest.mark.parametrize("name", IN_REGISTER)
def test_a_planted_change_is_found_and_named(name: str, short: Model, good: Parts) -> None:
    """The right kind at the right cell, and nothing else but what follows: results, looks, a part changed by hand."""
    copy = Copy(short, dict(good))
    sheet, cell = IN_REGISTER[name].change(copy)
    report = report_on(copy.parts, SHORT)
    told = "\n".join(report.lines())
    assert report.verdict == CHANGED, told
    kind = IN_REGISTER[name].kind
    named = [f for f in report.findings if f.kind == kind]
    assert any(f.sheet == sheet and cell in (f.cell, "*") for f in named), told
    assert {f.kind for f in report.findings if f.of_meaning} <= {kind, "result", "look", "by_hand"}, told


def test_stale_results_are_told_from_wrong_ones(short: Model, good: Parts) -> None:
    """All that follows from a line typed anew is old, on every sheet; a result that differs from its sources is not."""
    for name, stale in (("a line typed without recalculation", True), ("a stored result", False)):
        copy = Copy(short, dict(good))
        IN_REGISTER[name].change(copy)
        found = report_on(copy.parts, SHORT).findings
        assert len(found) > 10 * stale
        assert {"not recalculated since" in f.sentence for f in found if f.kind == "result"} == {stale}


def _of_another(short: Model, good: Parts, edition: str, path: Path) -> Path:
    parts = {name: data.replace(short.edition.encode(), edition.encode()) for name, data in good.items()}
    return pack(parts, path)


def test_a_register_of_an_unknown_edition_is_refused(short: Model, good: Parts, tmp_path: Path) -> None:
    report = verify(_of_another(short, good, "9.9.9-12345678", tmp_path / "older.xlsx"), SHORT)
    assert report.verdict == REFUSED
    assert "edition '9.9.9-12345678' is not known" in report.refused


def test_a_register_of_a_released_edition_is_compared_with_its_dump(
    short: Model, good: Parts, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As far as a dump tells: it is clean but for the note that it is older; a changed formula is found."""
    older = replace(edition_of_model(short), edition="0.0.9-12345678")
    monkeypatch.setattr(expected, "load_edition", lambda *_: older)
    path = _of_another(short, good, older.edition, tmp_path / "older.xlsx")
    report = verify(path, SHORT)
    assert (report.verdict, [found.kind for found in report.findings]) == (CLEAN, ["older"]), "\n".join(report.lines())
    slot = short.layout.cells("lines", "absolute_lead")["", "line3"]
    copy = Copy(short, parts_of(path))
    copy.cell(short.at(slot.place), lambda cell: cell.replace("ABS(", "SIGN("))
    report = verify(pack(copy.parts, tmp_path / "changed.xlsx"), SHORT)
    assert report.verdict == CHANGED
    assert any(found.kind == "formula" for found in report.findings), "\n".join(report.lines())


def test_a_register_without_an_edition_says_so(short: Model, good: Parts, tmp_path: Path) -> None:
    """An empty cell is no edition of that name."""
    copy = Copy(short, dict(good))
    copy.cell(short.edition_cell(), lambda cell: re.sub(r' t="s".*', "/>", cell, flags=re.DOTALL))
    report = verify(pack(copy.parts, tmp_path / "none.xlsx"), SHORT)
    assert report.refused == "none.xlsx: its edition is not told, so it cannot be compared"
    assert report.edition is None


@pytest.mark.parametrize(
    ("ours", "written", "same"),
    [
        ("STDEV(A1:A3)", "_xlfn.STDEV.S(A1:A3)", True),
        ("VAR(A1:A3)", "VAR.S(A1:A3)", True),
        ("COVAR(A1:A3,B1:B3)", "_xlfn.COVARIANCE.P(A1:A3,B1:B3)", True),
        ("PERCENTILE(A1:A3,B1)", "_xlfn.PERCENTILE.INC(A1:A3,B1)", True),
        ("RANK(A1,B1:B3)", "_xlfn.RANK.EQ(A1,B1:B3)", True),
        ("NORMSINV(A1)", "_xlfn.NORM.S.INV(A1)", True),
        ("FINV(A1,B1,C1)", "_xlfn.F.INV.RT(A1,B1,C1)", True),
        ("TINV(A1,B1)", "_xlfn.T.INV.2T(A1,B1)", True),
        ("STDEV(A1:A3)", "_xlfn.STDEV.P(A1:A3)", False),
        ("VAR(A1:A3)", "_xlfn.VAR.P(A1:A3)", False),
        ("COVAR(A1:A3,B1:B3)", "_xlfn.COVARIANCE.S(A1:A3,B1:B3)", False),
        ("PERCENTILE(A1:A3,B1)", "_xlfn.PERCENTILE.EXC(A1:A3,B1)", False),
        ("RANK(A1,B1:B3)", "_xlfn.RANK.AVG(A1,B1:B3)", False),
        ("NORMSDIST(A1)", "_xlfn.NORM.S.DIST(A1)", False),
        ("FINV(A1,B1,C1)", "_xlfn.F.INV(A1,B1,C1)", False),
        ("TINV(A1,B1)", "_xlfn.T.INV(A1,B1)", False),
        ('"STDEV.S"', '"STDEV"', False),
    ],
)
def test_a_newer_name_is_the_same_function_where_it_is_one(ours: str, written: str, same: bool) -> None:
    """Equal by definition: of a sample, inclusive, equal ranks, right tail, two tails; any other is a change."""
    assert same_formula(ours, written) is same


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("\"it's 'Líneas'!\"&'Líneas'!A1", "\"it's 'Líneas'!\"&Líneas!A1", True),
        ("\"'Líneas'!\"&A1", '"Líneas!"&A1', False),
    ],
)
def test_quotes_within_a_text_stay(one: str, other: str, same: bool) -> None:
    """The quick look at a formula takes away quotes of sheet names, not those that a text shows."""
    assert same_formula(one, other) is same
