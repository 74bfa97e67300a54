"""The loan book as it comes back: verified, explained, kept as an edition, compared with the next one.

Nothing of the product is imported. What is changed in a file, or in the specs, is what each must tell; the payment at
another rate is worked by the plain equation of `owed`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from builder.engine.audit.verify import CHANGED, CLEAN, REFUSED, verify
from builder.engine.compare.old import open_old
from builder.engine.compare.report import report
from builder.engine.editions import edition_of_model, load_edition, record, store
from builder.engine.explain import UnknownKey, explain, known
from builder.engine.model import Model, load_model
from builder.engine.spec import SpecError
from tests.support.hostile import pack, parts_of
from tests.support.loans import LOANS, copied_loan, fill_loans, owed, typed_loan
from tests.support.plants import Copy, protection

CASES = ("at the end", "at the start", "without interest")


@pytest.fixture(scope="module")
def loan(tmp_path_factory: pytest.TempPathFactory) -> Model:
    """The workbook, built from its specs."""
    return load_model(specs=copied_loan(tmp_path_factory.mktemp("loan")))


@pytest.fixture(scope="module")
def files(loan: Model, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A file of each loan, its results stored by the witness."""
    return fill_loans(loan, tmp_path_factory.mktemp("loans"))


def test_the_only_workbook_is_the_one_that_is_meant(loan: Model) -> None:
    assert loan.spec.name == "loan"


@pytest.mark.parametrize("name", CASES)
def test_a_file_is_clean_as_it_was_written(loan: Model, files: Mapping[str, Path], name: str) -> None:
    found = verify(files[name], specs=loan.spec.home)
    assert (found.verdict, found.edition, found.findings) == (CLEAN, loan.edition, ())


def _formula(copy: Copy) -> tuple[str, str]:
    place = copy.place("book", "yearly_payment")
    copy.formula(place, lambda formula: formula.replace("-1", "-2", 1))
    return place


def _constant(copy: Copy) -> tuple[str, str]:
    place = copy.constant("whole_in_percent")
    copy.holds(place, 101)
    return place


def _unlocked(copy: Copy) -> tuple[str, str]:
    place = copy.place("years", "interest", "", "year3")
    copy.restyle(place, protection('locked="0"'))
    return place


def _result(copy: Copy) -> tuple[str, str]:
    place = copy.place("book", "growth")
    copy.cell(place, lambda cell: re.sub(r"<v>[^<]*</v>", "<v>1.06</v>", cell))
    return place


PLANTS: dict[str, Callable[[Copy], tuple[str, str]]] = {
    "formula": _formula,
    "constant": _constant,
    "lock": _unlocked,
    "result": _result,
}


@pytest.mark.parametrize("kind", PLANTS)
def test_a_change_is_found_and_named(loan: Model, files: Mapping[str, Path], tmp_path: Path, kind: str) -> None:
    copy = Copy(loan, parts_of(files["at the end"]))
    place = PLANTS[kind](copy)
    found = verify(pack(copy.parts, tmp_path / "changed.xlsx"), specs=loan.spec.home)
    assert found.verdict == CHANGED
    assert place in [(one.sheet, one.cell) for one in found.findings if one.kind == kind]
    assert {one.kind for one in found.findings if one.of_meaning} <= {kind, "look", "by_hand"}


def test_every_key_is_explained(loan: Model) -> None:
    for key in known(loan):
        assert explain(loan, key), key
    said = "\n".join(explain(loan, "yearly_payment"))
    assert "written in specs/loan/1-loan.toml" in said and "read as  payment" in said
    assert "checked  by its own formula alone" in said
    fed = next(line for line in said.splitlines() if line.startswith("  fed by"))
    assert set(fed.split()[2:]) >= {"growth,", "principal,", "year_number,"} and "feeds    interest, repaid" in said
    assert "written in specs/constants.toml" in "\n".join(explain(loan, "whole_in_percent"))
    with pytest.raises(UnknownKey, match="did you mean 'owed_after'"):
        explain(loan, "owed_aftr")


@pytest.fixture(scope="module")
def next_one(tmp_path_factory: pytest.TempPathFactory) -> tuple[Model, Path]:
    """The next edition, with another constant, and where the first one is kept."""
    specs = copied_loan(tmp_path_factory.mktemp("next"))
    folder = specs / "editions"
    folder.mkdir()
    store.release(load_model(specs=copied_loan(tmp_path_factory.mktemp("before"))), folder)
    for path, old, new in (
        (specs / "constants.toml", "value = 100\n", "value = 102\n"),
        (specs / "loan" / "changes.toml", 'version = "1.0.0"\n\n', 'version = "1.1.0"\n\n'),
        (
            specs / "loan" / "changes.toml",
            "[[change]]\n",
            '[[change]]\nversion = "1.1.0"\nresults_change = true\ntext = "Another whole."\n\n[[change]]\n',
        ),
    ):
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return load_model(specs=specs), folder


def _cases(model: Model) -> record.Cases:
    return record.Cases({name: typed_loan(model, LOANS[name]) for name in CASES})


def test_an_edition_is_kept_and_read_again(loan: Model, next_one: tuple[Model, Path]) -> None:
    _, folder = next_one
    assert load_edition(loan.edition, folder) == edition_of_model(loan)
    assert store.broken(folder) == []


def test_a_released_version_is_not_changed(loan: Model, tmp_path: Path) -> None:
    """Nor do results change without an entry that says so; a constant is named even where it says so."""
    store.release(loan, tmp_path)
    record.write_record(loan, _cases(loan), tmp_path)
    specs = copied_loan(tmp_path)
    path = specs / "constants.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("value = 100\n", "value = 101\n"), encoding="utf-8")
    changed = load_model(specs=specs)
    with pytest.raises(SpecError, match="Raise the version"):
        store.refuse_changed_release(changed, tmp_path)
    with pytest.raises(SpecError, match=r"at the end, book\.yearly_payment"):
        record.demand_entry(changed, _cases(changed), tmp_path)
    assert record.changed_constants(changed, tmp_path) == ["whole_in_percent: 100 is now 101"]


@pytest.mark.parametrize("of", ["file", "edition"])
def test_two_editions_are_compared(
    next_one: tuple[Model, Path], files: Mapping[str, Path], loan: Model, of: str
) -> None:
    """The constant, and what it makes of the payment: 10,000 in ten years at 5 of 100, and at 5 of 102."""
    model, folder = next_one
    old = open_old(str(files["at the end"]) if of == "file" else loan.edition, model.spec, folder)
    told = "\n".join(report(model, old, "ironcalc", _cases(model)))
    was, now = owed(10_000, 5, False)[0], owed(10_000, 500 / 102, False)[0]
    assert "1. Constants: 1 changed, 0 new, 0 gone" in told and "100 percent -> 102 percent" in told
    assert "2. Formulas: 0 changed, 0 new, 0 gone" in told and "1 entries" in told
    assert f"(yearly_payment): {was:.6g} -> {now:.6g}" in told
    assert "without interest: 0 of" in told


def test_a_file_of_the_edition_before_is_compared_with_its_dump(
    next_one: tuple[Model, Path], files: Mapping[str, Path], loan: Model, tmp_path: Path
) -> None:
    """Another program computes its results; a constant changed in it is found all the same."""
    model, _ = next_one
    found = verify(files["at the end"], specs=model.spec.home)
    assert found.edition == loan.edition and found.verdict == CLEAN, list(found.lines())
    copy = Copy(loan, parts_of(files["at the end"]))
    place = _constant(copy)
    found = verify(pack(copy.parts, tmp_path / "changed.xlsx"), specs=model.spec.home)
    assert place in [(one.sheet, one.cell) for one in found.findings if one.kind == "constant"]


def test_a_file_of_an_edition_that_is_not_kept_is_refused(loan: Model, next_one: tuple[Model, Path]) -> None:
    model, _ = next_one
    path = fill_loans(model, next_one[1])["at the end"]
    assert verify(path, specs=loan.spec.home).verdict == REFUSED
