"""A file against its edition: each planted change is found and named, what programs do when they save is not."""

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

import tests.support.plants_around
import tests.support.plants_in_cells
import tests.support.plants_in_rules  # noqa: F401  these three enter their changes into PLANTS
from builder.cli import main
from builder.engine.audit.formulas import same_formula
from builder.engine.audit.quick import changed_formulas, changed_in
from builder.engine.audit.verify import CHANGED, CLEAN, NOT_COMPUTED, REFUSED, verify
from builder.engine.editions import Edition, edition_of_model
from builder.engine.exchange import office
from builder.engine.exchange.gnumeric import convert as saved_by_gnumeric
from builder.engine.exchange.untrusted import judged
from builder.engine.model import Model, load_model
from builder.planner.build import BLANK, DEMO, OUTPUT
from tests.support.filled import fill
from tests.support.hostile import Parts, pack, parts_of
from tests.support.in_memory import report_on
from tests.support.plants import PLANTS, Copy
from tests.support.saved_otherwise import SAVED
from tests.support.workbooks import typed_case

COMPUTING = ("formula", "constant", "input_formula", "twice")


@pytest.fixture(scope="module")
def good(model: Model, tmp_path_factory: pytest.TempPathFactory) -> Parts:
    """A complete plan, both eyes, as the builder writes it."""
    path = tmp_path_factory.mktemp("good") / "good.xlsx"
    fill(model, typed_case("ready"), path)
    return parts_of(path)


def _copy(model: Model, good: Parts) -> Copy:
    return Copy(model, dict(good))


def test_a_filled_file_is_clean(model: Model, good: Parts, tmp_path: Path) -> None:
    """No finding at all, notes neither."""
    report = verify(pack(good, tmp_path / "good.xlsx"))
    assert (report.verdict, report.edition, report.findings) == (CLEAN, model.edition, ())


@pytest.mark.parametrize("name", PLANTS)
def test_a_planted_change_is_found_and_named(name: str, model: Model, good: Parts) -> None:
    """The right kind at the right cell, and nothing else but what follows: results, looks, a part changed by hand."""
    copy = _copy(model, good)
    sheet, cell = PLANTS[name].change(copy)
    report = report_on(copy.parts)
    told = "\n".join(report.lines())
    assert report.verdict == CHANGED, told
    kind = PLANTS[name].kind
    named = [f for f in report.findings if f.kind == kind]
    assert any(f.sheet == sheet and cell in (f.cell, "*") for f in named), told
    assert all(f.sentence and "{" not in f.sentence for f in named)
    assert {f.kind for f in report.findings if f.of_meaning} <= {kind, "result", "look", "by_hand"}, told
    outside = name == "a formula outside the layout"
    assert bool(changed_in(judged("sent.xlsx", copy.parts))) == (
        kind in COMPUTING or outside or kind == "sheet_missing"
    )


def test_stale_results_are_told_from_wrong_ones(model: Model, good: Parts) -> None:
    """Results that follow from a newly typed input are old; one that differs from its sources is not."""
    for name, wanted in (("an input typed without recalculation", True), ("a stored result", False)):
        copy = _copy(model, good)
        PLANTS[name].change(copy)
        report = report_on(copy.parts)
        place = copy.place("eyes", "lens_power", "right")
        found = next(f for f in report.findings if (f.sheet, f.cell) == place)
        assert ("not recalculated since" in found.sentence) is wanted
        assert f"{found.expected:.12g}" in found.sentence and f"{found.found:.12g}" in found.sentence


@pytest.fixture(scope="module")
def built() -> list[Path]:
    """The blank workbook and the demo, as a clinic gets them (tests/test_same_bytes.py: they are what is built now)."""
    return [OUTPUT / BLANK, OUTPUT / DEMO]


def test_files_saved_by_libreoffice_are_clean(built: list[Path], libreoffice: str, tmp_path: Path) -> None:
    """A round trip of the blank and the demo changes nothing of meaning."""
    for path in office.convert(built, tmp_path):
        _clean(path)


def test_files_saved_by_gnumeric_are_clean(built: list[Path], gnumeric: str, tmp_path: Path) -> None:
    """A round trip of the blank and the demo changes nothing of meaning."""
    for path in saved_by_gnumeric(built, tmp_path):
        _clean(path)


def _clean(path: Path) -> None:
    report = verify(path)
    assert report.verdict == CLEAN, "\n".join(report.lines())
    assert not changed_formulas(path)


@pytest.mark.parametrize("name", SAVED)
def test_what_programs_do_when_saving_is_no_change(name: str, model: Model, good: Parts, tmp_path: Path) -> None:
    """Shared formulas, other spellings, other tables of styles, rules kept elsewhere: clean."""
    copy = _copy(model, good)
    SAVED[name](copy)
    assert copy.parts != good
    _clean(pack(copy.parts, tmp_path / "saved.xlsx"))


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("SUM(A1:A3)", "sum( $A$1:$A$3 )", True),
        ("A1:A1+1", "A1+1.0", True),
        ("FIXED(A1,0,TRUE)", "FIXED(A1,0,TRUE())", True),
        ("'Readings'!B2*0.10", "Readings!$B$2*.1", True),
        ("'Lens power'!B2", "Lens power!B2", False),
        ("A1+B1", "B1+A1", False),
        ("A1-B1-C1", "A1-(B1-C1)", False),
        ("A1^2", "A1^3", False),
        ('IF(A1>0,"a b","")', 'IF(A1>0,"ab","")', False),
        ('"x"&"TRUE"', '"x"&TRUE', False),
        ("SUM(A1:A3)", "SUM(A1,A3)", False),
        ("A1", "B1", False),
        ("Readings!B2", "Map!B2", False),
        ("A1 B1", "A1B1", False),
        ("1000", "1E3", True),
        ("1000", "1001", False),
    ],
)
def test_the_comparison_of_formulas_can_fail(one: str, other: str, same: bool) -> None:
    """What counts as the same formula is neither too loose nor too tight."""
    assert same_formula(one, other) is same


REFUSED_FOR = {
    "macro": (lambda parts: parts | {"xl/vbaProject.bin": b"x"}, "macros"),
    "external link": (lambda parts: parts | {"xl/externalLinks/externalLink1.xml": b"<a/>"}, "reaches out"),
    "another edition": (lambda parts: _of_edition(parts, "9.9.9-12345678"), "9.9.9-12345678"),
    "no formula list": (lambda parts: _of_edition(_without_list(parts), "9"), "no formula list"),
}


def _of_edition(parts: Parts, edition: str) -> Parts:
    return {name: re.sub(rb"\d\.\d\.\d-[0-9a-f]{8}", edition.encode(), data) for name, data in parts.items()}


def _without_list(parts: Parts) -> Parts:
    return parts | {"xl/workbook.xml": re.sub(rb'<sheet name="Formula list"[^>]*>', b"", parts["xl/workbook.xml"])}


@pytest.mark.parametrize("name", REFUSED_FOR)
def test_what_cannot_be_compared_is_refused_with_a_sentence(name: str, good: Parts, tmp_path: Path) -> None:
    """Macros and links by the guard; an edition that is not known by its name."""
    spoil, said = REFUSED_FOR[name]
    report = verify(pack(spoil(dict(good)), tmp_path / "sent.xlsx"))
    assert (report.verdict, report.findings) == (REFUSED, ())
    assert said in report.refused and "\n" not in report.refused


def test_the_command_tells_in_words_and_for_programs(
    model: Model, good: Parts, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit status 0, 1, 2; every file named; the same findings in both ways of telling."""
    clean = pack(good, tmp_path / "clean.xlsx")
    copy = _copy(model, good)
    place = PLANTS["a constant of medicine"].change(copy)
    changed = pack(copy.parts, tmp_path / "changed.xlsx")
    gone = tmp_path / "gone.xlsx"
    assert main(["verify", str(clean)]) == CLEAN
    assert model.edition in capsys.readouterr().out
    assert main(["verify", str(clean), str(changed)]) == CHANGED
    told = capsys.readouterr().out
    assert "!".join(place).replace("!", " ") in told and "1.336" in told and "1.3361" in told
    assert main(["verify", str(changed), str(gone), str(clean), "--json"]) == REFUSED
    reports = json.loads(capsys.readouterr().out)
    assert [report["verdict"] for report in reports] == ["changed", "refused", "clean"]
    found = reports[0]["findings"][0]
    assert (found["kind"], found["sheet"], found["cell"], found["key"]) == ("constant", *place, "index_aqueous")
    assert (found["expected"], found["found"]) == (1.336, 1.3361)
    assert found["sentence"] in told
    assert reports[1]["refused"].startswith("gone.xlsx")


def _released(edition: str, _: Path) -> Edition:
    """The current edition under a name of its own, as a release keeps it."""
    return replace(edition_of_model(load_model()), edition=edition)


def test_a_file_of_a_released_edition_is_compared_with_its_dump(
    good: Parts, model: Model, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Formulas, constants and locks of an older edition; what its dump does not tell is said, not passed over."""
    monkeypatch.setattr("builder.engine.audit.expected.load_edition", _released)
    copy = _copy(model, _of_edition(good, "0.0.1-00000000"))
    report = verify(pack(copy.parts, tmp_path / "old.xlsx"))
    assert (report.verdict, [f.kind for f in report.findings]) == (CLEAN, ["older"]), "\n".join(report.lines())
    for name in ("one sign of a formula", "a constant of medicine", "the lock of a formula", "a hidden line"):
        copy = _copy(model, _of_edition(good, "0.0.1-00000000"))
        place = PLANTS[name].change(copy)
        found = verify(pack(copy.parts, tmp_path / "changed.xlsx")).findings
        told = [(f.kind, f.sheet, f.cell) for f in found if f.of_meaning and f.kind != "result"]
        assert told == [(PLANTS[name].kind, *place)], name


def test_stored_results_of_a_released_edition_are_computed_or_said_not_to_be(
    good: Parts, model: Model, tmp_path: Path, libreoffice: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A forged result is named; where no program can compute it, the exit status is one of its own."""
    del libreoffice
    monkeypatch.setattr("builder.engine.audit.expected.load_edition", _released)
    copy = _copy(model, _of_edition(good, "0.0.1-00000000"))
    place = PLANTS["a stored result"].change(copy)
    path = pack(copy.parts, tmp_path / "forged.xlsx")
    told = [(f.kind, f.sheet, f.cell) for f in verify(path).findings if f.of_meaning]
    assert ("result", *place) in told and {kind for kind, _, _ in told} == {"result"}
    monkeypatch.setattr("builder.engine.audit.verify.engine_at_hand", lambda: "")
    report = verify(path)
    assert report.verdict == NOT_COMPUTED and report.told()["verdict"] == "not computed"
    assert "NOT COMPUTED" in next(report.lines())


def test_a_decimal_comma_in_a_sentence_is_no_change(model: Model, good: Parts) -> None:
    """FIXED writes the sign of the office; another digit in the same sentence is named."""
    sentence = re.compile(r"(</f><v>[^<]*\d)\.(\d\d D[^<]*</v>)")
    for sign, verdict in ((",", CLEAN), (".1", CHANGED)):
        parts = {
            part: sentence.sub(rf"\g<1>{sign}\2", data.decode()).encode()
            for part, data in good.items()
            if "sheet" in part
        }
        assert any(parts[part] != good[part] for part in parts)
        report = report_on(good | parts)
        assert report.verdict == verdict, "\n".join(report.lines())
