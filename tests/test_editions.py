"""Editions: a dump loses nothing, tells when it was changed, and no result changes unsaid."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from builder.engine.dump import look_lines
from builder.engine.editions import UnknownEdition, edition_of_model, known, load_edition, record, store
from builder.engine.editions.compact import compact, expand
from builder.engine.editions.texts import edition_text
from builder.engine.model import Model, constant_value, load_model
from builder.engine.spec import SpecError
from builder.planner.books import PLAN, REGISTER
from builder.planner.build import books
from builder.planner.cases import kept_cases


def test_nothing_is_lost_in_the_compact_dump(model: Model) -> None:
    """The lines of the dump come back, one a cell, from less than half as many lines of cells."""
    lines = list(compact(model))
    assert list(expand(lines)) == list(model.dump)
    assert sum("!" in line.split(" | ")[0] for line in lines) < len(model.compiled) / 2


def test_two_looks_are_two_editions(model: Model) -> None:
    """A width, a style, how a number is shown, the paper's direction, a chart: each is in the dump."""
    spec = model.spec
    sheet = next(sheet for sheet in spec.sheets if sheet.charts and sheet.blocks)
    block, chart = sheet.blocks[-1], sheet.charts[0]
    row = block.rows[0]
    other_row = replace(block, rows=(replace(row, decimals=row.decimals + 1), *block.rows[1:]))
    changes = [
        replace(sheet, columns=(*sheet.columns[:-1], sheet.columns[-1] + 1)),
        replace(sheet, landscape=not sheet.landscape),
        replace(sheet, charts=(replace(chart, height=chart.height + 1), *sheet.charts[1:])),
        replace(sheet, blocks=(*sheet.blocks[:-1], other_row)),
    ]
    others = [replace(spec, sheets=tuple(new if old is sheet else old for old in spec.sheets)) for new in changes]
    others.append(replace(spec, styles={**spec.styles, "title": {**spec.styles["title"], "font_size": 15}}))
    seen = {tuple(look_lines(other)) for other in (spec, *others)}
    assert len(seen) == len(others) + 1
    assert set(look_lines(spec)) <= set(model.dump)


def test_a_register_is_an_edition_too(tmp_path: Path) -> None:
    """Its long lists come back line by line, and the edition of the plan that it takes lines from is part of it."""
    model = load_model(REGISTER)
    assert list(expand(compact(model))) == list(model.dump)
    edition = store.edition_from(store.write_current(model, tmp_path))
    assert edition.edition == model.edition
    assert len(edition.cells) == len(model.layout.slots) + len(model.spec.constants)
    for place, compiled in model.compiled.items():
        held = edition.cells[model.at(place)].holds.removeprefix("=")
        assert held.replace("$", "") == compiled.formula.replace("$", ""), model.at(place)
    slot = model.layout.cells("plan", "plan_edition")["", "plan"]
    assert edition.value(edition.cells[model.at(slot.place)]) == load_model().edition


def test_an_edition_expects_what_the_builder_writes(model: Model) -> None:
    """Formula, lock and name of every cell."""
    edition = edition_of_model(model)
    for place, compiled in model.compiled.items():
        cell = edition.cells[model.at(place)]
        assert (cell.role, cell.holds, cell.locked) == ("formula", "=" + compiled.formula, True)
    for slot in model.layout.slots:
        if slot.row.input is not None:
            assert not edition.cells[model.at(slot.place)].locked
    assert len(edition.cells) == len(model.layout.slots) + len(model.spec.constants)
    assert (edition.workbook, edition.version) == (model.spec.name, model.spec.version)


def test_committed_editions_are_sound() -> None:
    """The current dump of each language is what the specs build; each released one is what its name says."""
    assert [fault for model in books() for fault in store.faults(model)] == []
    assert store.released()
    for edition in store.released():
        assert load_edition(edition).edition == edition
    assert all(known()[model.edition] for model in books())


@pytest.mark.parametrize("book", [PLAN, REGISTER])
def test_a_spanish_dump_says_only_what_differs_and_comes_back_whole(book: str, tmp_path: Path) -> None:
    """Less than half of its lines are kept; a change in it, or in the English one beside it, is refused."""
    english, spanish = load_model(book), load_model(book, "es")
    paths = [store.write_current(model, tmp_path) for model in (english, spanish)]
    kept = paths[1].read_text(encoding="utf-8")
    assert len(kept) < len(edition_text(spanish)) / 2
    assert store.edition_from(paths[1]) == edition_of_model(spanish)
    for path, old, new in ((paths[1], "locked", "unlocked"), (paths[1], "words | word.", "words | wird.")):
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
        with pytest.raises(ValueError, match=r"changed after it was written|is no edition"):
            store.edition_from(path)
        path.write_text(text, encoding="utf-8")
    other = paths[0].read_text(encoding="utf-8")
    paths[0].write_text(other.replace("| locked", "| unlocked", 1), encoding="utf-8")
    with pytest.raises(ValueError, match="was changed after it was written"):
        store.edition_from(paths[1])
    paths[0].write_text(other.replace(english.edition, "9.9.9-12345678", 1), encoding="utf-8")
    paths[1].write_text(kept.replace(english.edition, "9.9.9-87654321", 1), encoding="utf-8")
    with pytest.raises(ValueError, match="beside which it is told, is not here"):
        store.edition_from(paths[1])


def test_an_unknown_edition_is_refused_by_name() -> None:
    """Also one that is no name of a file at all."""
    for name in ("9.9.9-00000000", "../../README", ""):
        with pytest.raises(UnknownEdition, match="is not known; known are"):
            load_edition(name)


@pytest.mark.parametrize("change", [("1.336 ", "1.337 "), ("=IF(", "=if("), ("locked", "unlocked"), ("used", "Used")])
def test_a_changed_dump_is_refused(model: Model, tmp_path: Path, change: tuple[str, str]) -> None:
    """One number, formula, lock or text is enough."""
    path = store.write_current(model, tmp_path)
    assert store.edition_from(path).edition == model.edition
    path.write_text(path.read_text(encoding="utf-8").replace(*change, 1), encoding="utf-8")
    with pytest.raises(ValueError, match="was changed after it was written"):
        store.edition_from(path)
    assert "python -m builder build" in store.faults(model, tmp_path)[0]


def test_a_released_version_is_never_changed(model: Model, tmp_path: Path) -> None:
    """Another edition under a released version is refused until the version is raised."""
    store.release(model, tmp_path)
    store.release(model, tmp_path)  # the same again is no change
    changed = replace(
        model, dump=(*model.dump[:-1], "words | word.used | taken"), edition=f"{model.spec.version}-ffffffff"
    )
    with pytest.raises(SpecError, match="Raise the version"):
        store.refuse_changed_release(changed, tmp_path)
    store.refuse_changed_release(replace(changed, spec=replace(model.spec, version="99.0.0")), tmp_path)


def _with_record(model: Model, folder: Path, change: tuple[str, str] | None) -> None:
    path = record.write_record(model, kept_cases(model), folder)
    if change:
        text = path.read_text(encoding="utf-8")
        assert change[0] in text
        path.write_text(text.replace(*change, 1), encoding="utf-8")


def _entries(model: Model, *answers: bool) -> Model:
    """The model with entries since the recorded version, newest first."""
    since = tuple({"version": f"99.{n}", "results_change": a, "text": "planted"} for n, a in enumerate(answers))
    return replace(model, spec=replace(model.spec, changes=(*since, *model.spec.changes)))


def test_a_changed_result_needs_an_entry_that_says_so(model: Model, tmp_path: Path) -> None:
    """Refused with case, name, both values and what to do; an entry since then that says yes lets it pass."""
    value = record.results(model, kept_cases(model))["1-cone-both-eyes"]["right.exact_power"]
    _with_record(model, tmp_path, (f'"right.exact_power" = {value}', f'"right.exact_power" = {value + 1e-6}'))
    for unsaid in (model, _entries(model, False)):
        with pytest.raises(SpecError, match=r"1-cone-both-eyes, right.exact_power: .* is now") as caught:
            record.demand_entry(unsaid, kept_cases(model), tmp_path)
        assert "results_change = true" in str(caught.value)
    record.demand_entry(_entries(model, False, True), kept_cases(model), tmp_path)


def test_unchanged_results_need_no_entry(model: Model, tmp_path: Path) -> None:
    """Also when a new result has come; a result that is gone is a change."""
    _with_record(model, tmp_path, None)
    record.demand_entry(model, kept_cases(model), tmp_path)
    value = record.results(model, kept_cases(model))["1-cone-both-eyes"]["right.exact_power"]
    _with_record(model, tmp_path, (f'"right.exact_power" = {value}\n', ""))
    record.demand_entry(model, kept_cases(model), tmp_path)
    _with_record(model, tmp_path, ('"right.exact_power"', '"right.former_power"'))
    with pytest.raises(SpecError, match="former_power"):
        record.demand_entry(model, kept_cases(model), tmp_path)


def test_the_committed_record_allows_the_current_results(model: Model) -> None:
    """The rule of the build, with the record under version control."""
    assert record.record_file(model).exists()
    record.demand_entry(model, kept_cases(model))


def test_a_constant_that_changed_since_the_release_is_noticed(model: Model) -> None:
    """Even where no case shows it: the build names it, with both values."""
    told = record.changed_constants(model)
    spec = replace(model.spec, constants={**model.spec.constants})
    key = "flat_cornea"
    other = replace(spec.constants[key], value=spec.constants[key].value + 0.5)
    changed = replace(model, spec=replace(spec, constants={**spec.constants, key: other}))
    now = record.changed_constants(changed)
    assert [line for line in now if line not in told] == [f"{key}: 41 is now 41.5"]


def test_a_value_of_a_dump_is_that_of_the_model(model: Model) -> None:
    """A constant cell has a rule in the workbook that is written and one in a dump: both say the same."""
    edition = edition_of_model(model)
    constants = [slot for slot in model.layout.slots if slot.row.role(slot.instance) == "constant"]
    assert len(constants) > 1000
    for slot in constants:
        held = constant_value(model.spec, slot.row, slot.instance, model.edition, model.edition)
        assert edition.value(edition.cells[model.at(slot.place)]) == held, slot.row.key
    assert edition.value(edition.cells[model.edition_cell()]) == model.edition
