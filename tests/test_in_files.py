"""A workbook shows "3 mm zone", a case file says zone3: the words of both, and that no sheet shows those of files."""

from pathlib import Path
from typing import Any

import pytest

from builder.engine.exchange.in_files import file_words, in_edition, of_edition
from builder.engine.model import load_model
from builder.engine.spec.reading import SPECS
from builder.planner.books import PLAN
from builder.planner.exchange.casefile import read_case, typed_cells
from builder.planner.exchange.register import register_cells
from builder.planner.reading import read_workbook
from tests.support.filled import fill
from tests.support.workbooks import case_files, expected

TYPED: dict[str, Any] = {"k_rule": "ring", "astigmatism_source": "zone3"}


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_word_of_a_file_is_shown_otherwise(language: str) -> None:
    shown = load_model(PLAN, language).spec.words.tables["choice"]
    assert {key for key, word in file_words(SPECS).items() if shown.get(key, word) == word} == set()


@pytest.mark.parametrize("language", ["en", "es"])
def test_no_word_of_a_drop_down_holds_a_comma(language: str) -> None:
    """A comma parts the words of a list that stands in the rule of a cell."""
    assert not [word for word in load_model(PLAN, language).spec.words.tables["choice"].values() if "," in word]


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_case_is_typed_in_the_words_shown_and_read_in_those_of_files(language: str, tmp_path: Path) -> None:
    model = load_model(PLAN, language)
    typed = typed_cells(model, {"right": TYPED})
    words = model.spec.words
    assert set(typed.values()) == {words.get("choice", "ring"), words.get("choice", "zone3")}
    path = tmp_path / "typed.xlsx"
    fill(model, {**read_case(model, case_files()["1-cone-both-eyes"]), **typed}, path)
    found = read_workbook(path)["right"]
    assert {key: found[key] for key in TYPED} == TYPED
    assert found["mean_k_source"] == "ring"


def test_no_sheet_shows_a_word_of_files() -> None:
    """In no case of the suite."""
    model = load_model(PLAN)
    typed = [read_case(model, path) for path in case_files().values()]
    shown = {value for cells in expected(model, typed) for value in cells.values() if isinstance(value, str)}
    assert not shown & set(file_words(SPECS).values())


def test_an_older_edition_is_asked_and_heard_in_its_own_words() -> None:
    """One that shows what files have, one whose texts are not known, and one with yet others."""
    words = load_model(PLAN).spec.words
    for older, asked in (({"choice.zone3": "zone3"}, "zone3"), ({}, "zone3"), ({"choice.zone3": "zone 3"}, "zone 3")):
        assert in_edition(words, older, words.get("choice", "zone3")) == asked
        assert of_edition(words, older, asked) == "zone3"
    assert in_edition(words, {}, 3.0) == 3.0 and of_edition(words, {}, "lowest") == "lowest"


def test_a_line_of_the_register_shows_the_source_in_words() -> None:
    model = load_model("register", lines=12)
    shown = set(register_cells(model, [{"mean_k_source": "zone3"}]).values())
    assert shown == {model.spec.words.get("choice", "zone3")}
