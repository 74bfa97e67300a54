"""`compare`: changes planted in an older edition are each told, by kind, and their effect on the cases by size."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from builder.cli import main
from builder.engine.compare.changes import changes
from builder.engine.compare.effect import effects
from builder.engine.compare.old import as_built, open_old
from builder.engine.compare.report import report
from builder.engine.editions import Edition, edition_of_model, store
from builder.engine.exchange.cellvalues import UnreadableFile
from builder.engine.exchange.listed import NotOurs
from builder.engine.exchange.office import convert
from builder.engine.exchange.untrusted import Refused
from builder.engine.model import Model, load_model
from builder.planner.build import OUTPUT
from builder.planner.cases import kept_cases
from tests.support.filled import fill
from tests.support.planting import copied_specs, plant, spoil
from tests.support.workbooks import typed_case

POPULATION_K = ("population_k", "43.86", "45.0")


@pytest.fixture(scope="module")
def now(model: Model) -> Edition:
    """The current edition."""
    return edition_of_model(model)


def planted(edition: Edition, name: str, was: str, now: str) -> Edition:
    """The current edition as an older one, with one thing in one cell written otherwise."""
    place, cell = next((place, cell) for place, cell in edition.cells.items() if cell.name == name)
    assert was in cell.holds
    cells = {**edition.cells, place: replace(cell, holds=cell.holds.replace(was, now))}
    return replace(edition, edition="0.0.1-00000000", cells=cells)


def test_an_edition_does_not_differ_from_itself(now: Edition) -> None:
    """Neither by its dump nor by a filled workbook."""
    assert changes(now, now) == []


def test_words_that_change_places_are_told(now: Edition) -> None:
    """The words of the two rules for the step of the power, exchanged in their formula."""
    name, nearest, myopic = "right.step_said", "nearest step", "next step on the myopic side"
    exchanged = planted(planted(planted(now, name, nearest, "held"), name, myopic, nearest), name, "held", myopic)
    told = [change for change in changes(exchanged, now) if change.key == "step_said"]
    assert [change.kind for change in told] == ["message"]
    assert told[0].now.index(nearest) < told[0].now.index(myopic)
    assert told[0].was.index(myopic) < told[0].was.index(nearest)


def test_a_filled_workbook_is_its_own_edition(model: Model, now: Edition, tmp_path: Path) -> None:
    """Formulas, constants and limits are read back from the file; what is typed is no difference."""
    path = tmp_path / "filled.xlsx"
    fill(model, typed_case("1-cone-both-eyes"), path)
    old = open_old(str(path), model.spec)
    assert old.edition == model.edition
    assert changes(old, now) == []


def test_a_workbook_saved_in_another_office_is_its_own_edition(
    model: Model, now: Edition, tmp_path: Path, libreoffice: str
) -> None:
    """Decimal commas in its sentences, TRUE() for TRUE: no change."""
    del libreoffice
    path = tmp_path / "filled.xlsx"
    fill(model, typed_case("1-cone-both-eyes"), path)
    assert changes(open_old(str(convert([path], tmp_path, locale="es-ES")[0]), model.spec), now) == []
    assert as_built('="TRUE()"&FIXED(A1,2,TRUE())') == '="TRUE()"&FIXED(A1,2,TRUE)'


@pytest.mark.parametrize(
    ("name", "was", "found", "kind", "told"),
    [
        (*POPULATION_K, "constant", ("45 D", "43.86 D")),
        (
            "right.srkt.cornea_for_vergence",
            "/",
            "*",
            "formula",
            ("index_numerator*mean_radius", "index_numerator/mean_radius"),
        ),
        ("plan.highest_axial_length", "36", "35", "input", ("35", "36")),
        ("right.typed_axial_length", "to 36", "to 35", "input", ("from 17 to 35", "from 17 to 36")),
        ("right.step_said", "myopic side", "far side", "message", ("far side", "myopic side")),
    ],
)
def test_each_kind_of_change_is_told(
    now: Edition, name: str, was: str, found: str, kind: str, told: tuple[str, str]
) -> None:
    """One cell of the older edition was otherwise: one change, of its kind, with what was and what is."""
    listed = changes(planted(now, name, was, found), now)
    assert {change.kind for change in listed} == {kind}
    assert {change.key for change in listed} == {name.rpartition(".")[2]}
    assert any(told[0] in change.was and told[1] in change.now for change in listed)


def test_a_new_and_a_gone_row_are_told(now: Edition) -> None:
    """A row that only one edition has."""
    fewer = replace(now, cells={p: c for p, c in now.cells.items() if c.name != "right.mean_radius"})
    assert ("formula", "mean_radius", "") in [(c.kind, c.key, c.was) for c in changes(fewer, now)]
    assert any(change.key == "mean_radius" and not change.now for change in changes(now, fewer))


def test_cells_that_only_moved_are_no_change(now: Edition, tmp_path: Path) -> None:
    """A constant put before all others moves every constant one line down: it, the row that uses it, their labels."""
    specs = copied_specs(tmp_path)
    path = specs / "clinical" / "constants.toml"
    first = '[[constant]]\nkey = "planted_row"\nvalue = 1\nunit = "D"\nmark = "S"\nsource = ""\n\n'
    path.write_text(
        path.read_text(encoding="utf-8").replace("[[constant]]", f"{first}[[constant]]", 1), encoding="utf-8"
    )
    plant(specs, '  { key = "planted_other", formula = "planted_row*2" },')  # a constant that no row uses has no cell
    found = changes(now, edition_of_model(load_model(specs=specs)))
    assert [(c.kind, c.key, c.was, c.now) for c in found] == [
        ("constant", "planted_row", "", "1 D"),
        ("formula", "planted_other", "", "planted_row*2"),
        ("message", "label.planted_row", "", "Planted"),
        ("message", "label.planted_other", "", "Planted"),
    ]


def test_a_message_of_the_words_is_told_once(now: Edition) -> None:
    """A text that stands in many formulas is one change."""
    cells = {p: replace(c, holds=c.holds.replace('"used"', '"taken"')) for p, c in now.cells.items()}
    found = changes(replace(now, cells=cells, words={**now.words, "word.used": "taken"}), now)
    assert [(c.kind, c.key, c.was, c.now) for c in found] == [("message", "word.used", "taken", "used")]


def test_sentences_that_are_not_compared_are_said_to_be_left_out(model: Model, tmp_path: Path) -> None:
    """A file of an edition without a dump holds other labels: the report does not pass them off as unchanged."""
    specs = copied_specs(tmp_path)
    spoil(specs / "words.en.toml", "\naxial_length = ", '\naxial_length = "Length of the eye" # ')
    other = load_model(specs=specs)
    fill(other, {}, tmp_path / "other.xlsx")
    old = open_old(str(tmp_path / "other.xlsx"), model.spec)
    lines = report(model, old, "no engine", kept_cases(model))  # asked after these lines
    assert next(line for line in lines if "Messages" in line).startswith("5. Messages (in part): ")
    assert next(line for line in lines if "labels, titles, notes and helps are NOT told" in line)


def test_effect_on_the_cases_largest_first(model: Model, now: Edition, gnumeric: str) -> None:
    """Population K moves the lens of the eye after radial cuts, whose position uses it, and of no other eye."""
    found = {case.case: case for case in effects(model, planted(now, *POPULATION_K), gnumeric, kept_cases(model))}
    cuts = found["3-six-radial-cuts"]
    gaps = [effect.gap for effect in cuts.effects]
    assert gaps == sorted(gaps, reverse=True)
    moved = {effect.name: (effect.was, effect.now) for effect in cuts.effects}
    assert moved["left.position_k"] == (45.0, 43.86)
    assert moved["left.srkt.goal_power"][0] > moved["left.srkt.goal_power"][1]  # a deeper lens is a stronger one
    assert found["4-plain-astigmatism-one-eye"].effects == ()
    assert all(case.compared > 400 and not case.unknown_inputs for case in found.values())


def test_the_report_reads_as_one_page_to_sign(model: Model, now: Edition, gnumeric: str) -> None:
    """All six parts, the effect and the line for the signature."""
    text = "\n".join(report(model, planted(now, *POPULATION_K), gnumeric, kept_cases(model)))
    assert "1. Constants: 1 changed, 0 new, 0 gone" in text and "45 D -> 43.86 D" in text
    assert "2. Formulas: 0 changed" in text and "recalculated by gnumeric" in text
    assert "left, K for lens position (double-K) (position_k): 45 -> 43.86   (-1.14)" in text
    assert "signature" in text


def test_a_dump_can_be_compared(model: Model, now: Edition, tmp_path: Path) -> None:
    """By file and, when it is released, by name."""
    path = store.write_current(model, tmp_path)
    assert open_old(str(path), model.spec) == now
    released = next(iter(store.released()))
    assert open_old(released, model.spec).edition == released


def test_what_is_no_edition_is_refused(model: Model, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A missing file, a text, a foreign workbook, an unknown name: a sentence and 2, nothing else."""
    text, torn = tmp_path / "notes.txt", tmp_path / "torn.xlsx"
    text.write_text("not an edition\n", encoding="utf-8")
    torn.write_bytes(b"PK\x03\x04")
    for old in (str(tmp_path / "none.xlsx"), str(text), str(torn), "0.0.0-12345678"):
        assert main(["compare", old]) == 2
        assert capsys.readouterr().err.count("\n") == 1
    assert main(["compare", str(text)]) == 2
    assert "give a dump of specs/editions/" in capsys.readouterr().err
    with pytest.raises(Refused, match=r"another workbook, Outcome register for .*; give one of this kind: Planning"):
        open_old(str(OUTPUT / "outcome-register.xlsx"), model.spec)
    from openpyxl import Workbook

    Workbook().save(tmp_path / "foreign.xlsx")
    with pytest.raises(NotOurs):
        open_old(str(tmp_path / "foreign.xlsx"), model.spec)
    with pytest.raises(UnreadableFile):
        open_old(str(torn), model.spec)
