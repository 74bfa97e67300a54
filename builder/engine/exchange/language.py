"""The language of a workbook file, and its words in English: programs see English, whatever a file speaks."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from builder.engine.exchange.cellvalues import Cells
from builder.engine.exchange.in_files import as_in_files, words_of_files
from builder.engine.layout import Layout, Place, Slot
from builder.engine.model import Model, load_model
from builder.engine.same import says_the_same
from builder.engine.spec.lists import meant, takers
from builder.engine.spec.model import Input
from builder.engine.spec.reading import SPECS
from builder.engine.spec.words import ENGLISH, Words, languages, load_words
from builder.engine.values import values_of_cases

SPOKEN = ("choice", "word")  # the tables whose texts are a cell's value by themselves
HEADS = "list_"  # but not the heads of the generated sheets, by which a file's own list is found


@cache
def _titles(language: str, workbook: str, specs: Path) -> frozenset[str]:
    return frozenset(load_words(workbook, language, specs).tables["sheet"].values())


@cache  # as a file is read for each of many cases
def _english(workbook: str, specs: Path) -> Words:
    return load_words(workbook, ENGLISH, specs)


def language_of(titles: Collection[str], workbook: str = "", specs: Path = SPECS) -> str:
    """The language whose sheet titles a file has most of; English when it has none."""
    named = workbook or meant(specs)
    return max(languages(specs), key=lambda language: len(_titles(language, named, specs) & set(titles)))


def workbook_of(titles: Collection[str], specs: Path = SPECS) -> str:
    """The workbook that a file is of.

    One that takes lines, if the file has most of the sheets, in one language, that only that one has; else the one
    that is meant where none is named.
    """
    for name, taken in takers(specs).items():
        own = [_titles(language, name, specs) - _titles(language, taken, specs) for language in languages(specs)]
        if any(2 * len(mine & set(titles)) > len(mine) for mine in own):
            return name
    return meant(specs)


def title_of(workbook: str, specs: Path) -> str:
    """What a workbook is called, in English."""
    return _english(workbook, specs).get("text", f"{workbook}_title")


def typed_in_language(model: Model, typed: Mapping[Place, Any]) -> dict[Place, Any]:
    """Typed cells of a workbook with the words that files have for its drop-downs, or English ones, in its language."""
    spec = model.spec
    english = spec.words if spec.language == ENGLISH else None
    typed = _reworded(model, typed, words_of_files(spec.name, spec.home, english), spec.words)
    if english:
        return typed
    return _reworded(model, typed, _english(model.spec.name, model.spec.home), model.spec.words)


def typed_in_english(model: Model, typed: Mapping[Place, Any]) -> dict[Place, Any]:
    """Typed cells of a workbook in another language, at the places and with the words of the English one."""
    if model.spec.language == ENGLISH:
        return dict(typed)
    english = load_model(model.spec.name, specs=model.spec.home)
    reworded = _reworded(model, typed, model.spec.words, english.spec.words)
    return {other.place: reworded[slot.place] for slot, other in _pairs(model, english) if slot.place in reworded}


def _pairs(model: Model, english: Model) -> Iterator[tuple[Slot, Slot]]:
    """The same cell in both: a note of more lines moves what stands below."""
    return zip(model.layout.slots, english.layout.slots, strict=True)


def _reworded(model: Model, typed: Mapping[Place, Any], words: Words, others: Words) -> dict[Place, Any]:
    """What is none of a drop-down's words stays as it was typed."""
    known = _other_words(model.layout, words, others)
    return {
        place: known.get(place, {}).get(value.casefold(), value) if isinstance(value, str) else value
        for place, value in typed.items()
    }


@lru_cache(maxsize=8)  # asked of every case
def _other_words(layout: Layout, words: Words, others: Words) -> dict[Place, dict[str, str]]:
    """Of each cell with a drop-down: the other word for each of its words, in whatever letters it is typed."""
    of_input: dict[Input, dict[str, str]] = {}
    found = {}
    for slot in layout.slots:
        item = slot.row.input
        if item is not None:
            if item not in of_input:
                pairs = _words_of(layout, item)
                of_input[item] = {words.get(*pair).casefold(): others.get(*pair) for pair in pairs}
            found[slot.place] = of_input[item]
    return found


def _words_of(layout: Layout, item: Input) -> list[tuple[str, str]]:
    """The words of a drop-down, by table and key: its choices, or those that the cells of its list cite."""
    if item.type != "listed":
        return [("choice", key) for key in item.choices]
    cells = layout.cells(layout.lists_of[item.list or ""][0], item.list or "").values()
    return [(table, key) for table, key in map(_cited, cells) if key]


def values_in_english(cells: Cells, specs: Path = SPECS) -> Cells:
    """The values of the workbook that is meant where none is named, in its own places, with all its words in English.

    A cell that holds what the reference has for the file's inputs gets what the reference has in English. Of an
    other edition, or not recalculated since it was typed in, single words are found by their text alone, and
    sentences stay in the language of the file.
    """
    language, english = language_of({sheet for sheet, _ in cells}, specs=specs), load_model(specs=specs)
    if language == ENGLISH:
        return _as_files_have_them(cells, english)
    model = load_model(language=language, specs=specs)
    alone = {
        text: english.spec.words.get(table, key)
        for table in SPOKEN
        for key, text in model.spec.words.tables[table].items()
        if not key.startswith(HEADS)
    }
    lists = {model.spec.sheet_title(sheet.key) for sheet in model.spec.sheets if sheet.generated == "list"}
    found = {  # but the titles of sheets in the file's own list, by which its cells are found
        place: alone.get(value, value) if isinstance(value, str) and place[0] not in lists else value
        for place, value in cells.items()
    }
    at = {slot.place: model.at(slot.place) for slot in model.layout.slots}
    if cells.get(model.edition_cell()) == model.edition:
        found |= _by_reference(model, english, cells, at)
    return _as_files_have_them(found, english, model)


def _as_files_have_them(cells: Cells, english: Model, model: Model | None = None) -> Cells:
    """English values with the words of files, but in the list of formulas, by which a file's cells are found."""
    lists = {(model or english).spec.sheet_title(s.key) for s in english.spec.sheets if s.generated == "list"}
    words = english.spec.words
    return {place: v if place[0] in lists else as_in_files(words, v) for place, v in cells.items()}


def _by_reference(
    model: Model, english: Model, cells: Cells, at: Mapping[Place, tuple[str, str]]
) -> dict[tuple[str, str], Any]:
    """The English of each text of a file of this edition that is what the reference has, by its place in the file."""
    typed = {slot.place: cells.get(at[slot.place]) for slot in model.layout.slots if slot.row.input is not None}
    inputs = typed_in_english(model, typed)
    here, there = next(values_of_cases(model, [typed])), next(values_of_cases(english, [inputs]))
    found = {}
    for slot, other in _pairs(model, english):
        place = at[slot.place]
        if not isinstance(cells.get(place), str):
            continue
        if slot.row.input is not None:
            found[place] = inputs[other.place]
        elif slot.place in here and says_the_same(here[slot.place], cells[place]):
            found[place] = there[other.place]
        elif slot.place not in here and model.spec.words.has(*_cited(slot)):
            found[place] = english.spec.words.get(*_cited(slot))
    return found


def _cited(slot: Slot) -> tuple[str, str]:
    """Table and key of the text that a constant cell cites; of the edition, which the builder writes, no words."""
    table, _, key = str(slot.row.cells.get(slot.instance, "")).partition(".")
    return table, key
