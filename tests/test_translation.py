"""The words of another language: key by key as in English, each looked at since its English was last changed."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from string import Formatter

import pytest

from builder.engine.model import PLAN, load_model
from builder.engine.spec import SpecError
from builder.engine.spec.reading import SPECS
from builder.engine.spec.translated import hash_of, record_file, to_look_at
from builder.engine.spec.words import ENGLISH, languages, load_words
from builder.planner.books import REGISTER
from builder.planner.build import BOOKS
from tests.support.planting import spoil

ROOT = SPECS.parent
SPANISH = "es"
RECORD = record_file(SPANISH, SPECS).name
# An English text of each file of words, as it stands there, and its Spanish.
TEXTS = {
    "word.agrees": ("words", '\nagrees = "agrees"', '\nagrees = "coincide"'),
    "sheet.results": ("register/words", '\nresults = "Results"', '\nresults = "Resultados"'),
}


def test_spanish_is_a_language() -> None:
    assert languages(SPECS) == (ENGLISH, SPANISH)
    assert {language for _, language in BOOKS} == set(languages(SPECS))


@pytest.mark.parametrize("name", [PLAN, REGISTER])
def test_each_text_keeps_its_placeholders_and_is_translated(name: str) -> None:
    """The same words in braces; a sentence that both languages share was forgotten."""
    english, spanish = (load_words(name, language, SPECS).tables for language in (ENGLISH, SPANISH))
    fields = lambda text: [field for _, field, _, _ in Formatter().parse(text)]  # noqa: E731
    for table, texts in english.items():
        for key, text in texts.items():
            assert fields(text) == fields(spanish[table][key]), key
    same = [
        f"{table}.{key}"
        for table in ("point", "note", "help", "text")
        for key, text in english[table].items()
        if text.count(" ") > 2 and spanish[table][key] == text
    ]
    assert not same


@pytest.mark.parametrize("name", [PLAN, REGISTER])
def test_a_spanish_word_has_one_meaning(name: str) -> None:
    """No two words that differ in English are one in Spanish: formulas compare them, and they are read back."""
    english, spanish = (load_words(name, language, SPECS).tables for language in (ENGLISH, SPANISH))
    meanings: dict[str, set[str]] = {}
    for table in ("choice", "word"):
        for key, text in spanish[table].items():
            meanings.setdefault(text.casefold(), set()).add(english[table][key].casefold())
    assert not {text: found for text, found in meanings.items() if len(found) > 1}


@pytest.mark.parametrize(
    ("was", "now", "key", "wrong"),
    [
        ('agrees = "coincide"\n', "", "word.agrees", "has no text"),
        ('agrees = "coincide"\n', 'agrees = "coincide"\nagress = "x"\n', "word.agress", "no text of the English"),
        (
            'to_land = " del marcador; la lente queda en "',
            'to_land = "del marcador; la lente queda en "',
            "word.to_land",
            "begin and end",
        ),
        ('keratoconus = "queratocono"\n', "", "choice.keratoconus", "has no text"),
    ],
)
def test_a_text_that_differs_in_key_or_ends_fails_the_build(
    tmp_path: Path, was: str, now: str, key: str, wrong: str
) -> None:
    specs = shutil.copytree(SPECS, tmp_path / "specs")
    words = specs / f"words.{SPANISH}.toml"
    text = words.read_text(encoding="utf-8")
    assert text.count(was) == 1
    words.write_text(text.replace(was, now), encoding="utf-8")
    with pytest.raises(SpecError) as caught:
        load_model(PLAN, SPANISH, specs)
    assert (caught.value.file, caught.value.key) == (words.name, key)
    assert wrong in str(caught.value)
    assert load_model(PLAN, ENGLISH, specs).edition == load_model().edition


def test_an_unknown_language_is_told() -> None:
    with pytest.raises(SpecError, match=r"words\.xx\.toml"):
        load_model(PLAN, "xx")


def _tree(folder: Path) -> Path:
    """A copy of what the commands read, whose specs may be spoilt."""
    for name in ("builder", "specs"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(ROOT / "output", folder / "output", ignore=shutil.ignore_patterns("*.xlsx", "*.png"))
    return folder


def _run(tree: Path, *arguments: str) -> tuple[int, str]:
    """A command of the builder in a copied tree: how it ended, and what it said."""
    done = subprocess.run(
        [sys.executable, "-m", "builder", *arguments], cwd=tree, capture_output=True, text=True, check=False
    )
    return done.returncode, done.stdout + done.stderr


def test_every_text_was_looked_at_since_its_english_was_changed() -> None:
    """And the hashes are those of a published function, cut short (FIPS 180-4: the message "abc")."""
    assert to_look_at(SPANISH, SPECS) == []
    assert hash_of("abc") == "ba7816bf"


@pytest.mark.parametrize("name", TEXTS)
def test_a_changed_english_text_stops_build_and_check(tmp_path: Path, name: str) -> None:
    """Also when the Spanish was changed with it; nothing is written; it is said what to look at and what to run."""
    file, line, spanish = TEXTS[name]
    tree = _tree(tmp_path)
    spoil(tree / "specs" / f"{file}.{ENGLISH}.toml", line, line.replace(' = "', ' = "really '))
    spoil(tree / "specs" / f"{file}.{SPANISH}.toml", spanish, spanish[:-1] + ' ya"')
    before = {path: path.read_bytes() for path in (tree / "output").iterdir()}
    for command in ("build", "check"):
        code, said = _run(tree, command)
        assert code == 2
        assert said.startswith(f"{file}.{SPANISH}.toml, '{name}': has an English text that was changed: 'really ")
        assert " ya', then" in said and f"run: python -m builder translated {name}" in said
    assert {path: path.read_bytes() for path in (tree / "output").iterdir()} == before


def test_the_command_lists_records_and_drops(tmp_path: Path) -> None:
    """Without a key it only lists; the old English is told; what is gone goes, and the rest of the file stays."""
    tree = _tree(tmp_path)
    words = tree / "specs" / f"words.{ENGLISH}.toml"
    record = tree / "specs" / RECORD
    before = record.read_text(encoding="utf-8")
    spoil(words, 'agrees = "agrees"\n', 'agrees = "is the same"\n')
    for language, text in ((ENGLISH, "New"), (SPANISH, "Nuevo")):
        path = tree / "specs" / f"words.{language}.toml"
        spoil(path, "[label]\n", f'[label]\nplanted_row = "{text}"\n')
    spoil(record, "[label]\n", '[label]\nagreed_once = "12345678"\n')
    code, said = _run(tree, "translated")
    assert code == 1 and said.endswith("es: 3 texts to look at\n")
    assert "word.agrees: changed\n  English was  'agrees'\n  English is   'is the same'\n" in said
    assert "label.planted_row: new\n  English is   'New'\n  translation  'Nuevo'\n" in said
    assert "label.agreed_once: is no text any more\n" in said
    assert "agreed_once" in record.read_text(encoding="utf-8")
    code, said = _run(tree, "translated", "word.agrees")
    assert code == 0 and "planted_row" not in said
    kept = record.read_text(encoding="utf-8")
    assert kept == before.replace(f'agrees = "{hash_of("agrees")}"', f'agrees = "{hash_of("is the same")}"', 1)
    assert [text.name for text in to_look_at(SPANISH, tree / "specs")] == ["label.planted_row"]
    assert _run(tree, "translated", "--all")[0] == 0
    assert _run(tree, "translated") == (0, "es: 0 texts to look at\n")
    code, said = _run(tree, "translated", "word.agreees")
    assert code == 2 and "did you mean 'word.agrees'?" in said


@pytest.mark.parametrize(
    ("was", "now", "file", "key", "wrong"),
    [
        ("[label]\n", '[label]\nagreed_once = "12345678"\n', RECORD, "label.agreed_once", "is no text any more"),
        (f'agrees = "{hash_of("agrees")}"\n', "", "words.es.toml", "word.agrees", "is new: 'agrees'"),
        (f'agrees = "{hash_of("agrees")}"\n', "agrees = 1\n", "words.es.toml", "word.agrees", "was changed"),
    ],
)
def test_a_record_that_does_not_fit_fails_the_build(
    tmp_path: Path, was: str, now: str, file: str, key: str, wrong: str
) -> None:
    """A surplus entry, one that lacks and one that is no hash; English needs no record."""
    specs = shutil.copytree(SPECS, tmp_path / "specs")
    spoil(specs / RECORD, was, now)
    with pytest.raises(SpecError) as caught:
        load_words(PLAN, SPANISH, specs)
    assert (caught.value.file, caught.value.key) == (file, key)
    assert wrong in str(caught.value) and f"python -m builder translated {key}" in str(caught.value)
    assert load_words(PLAN, ENGLISH, specs).tables == load_words(PLAN, ENGLISH, SPECS).tables
