"""The words of another language: key by key as in English, each looked at since its English was last changed."""

from __future__ import annotations

import gettext
import io
import shutil
import subprocess
import sys
from pathlib import Path
from string import Formatter

import polib
import pytest

from builder.engine.model import load_model
from builder.engine.spec import SpecError
from builder.engine.spec.reading import SPECS
from builder.engine.spec.translated import homes, read_translation, to_look_at, words_file
from builder.engine.spec.words import ENGLISH, languages, load_words
from builder.planner.books import PLAN, REGISTER
from builder.planner.build import BOOKS
from tests.support.planting import spoil

ROOT = SPECS.parent
SPANISH = "es"
FILE = f"words.{SPANISH}.po"
# An English text of each file of words, as it stands there, and its Spanish.
TEXTS = {
    "word.agrees": ("words", '\nagrees = "agrees"', 'msgstr "coincide"\n'),
    "sheet.results": ("register/words", '\nresults = "Results"', 'msgstr "Resultados"\n'),
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


def _entry(name: str, english: str, spanish: str) -> str:
    return f'msgctxt "{name}"\nmsgid "{english}"\nmsgstr "{spanish}"\n\n'


AGREES = _entry("word.agrees", "agrees", "coincide")


@pytest.mark.parametrize(
    ("was", "now", "key", "wrong"),
    [
        (AGREES, "", "word.agrees", "has no text for 'agrees'"),
        (AGREES, AGREES + _entry("word.agress", "x", "y"), "word.agress", "no text of the English"),
        (AGREES, AGREES + AGREES, "word.agrees", "stands in it 2 times"),
        (AGREES, _entry("word.agrees", "agrees", ""), "word.agrees", "has no text for 'agrees'"),
        (AGREES, "#, fuzzy\n" + AGREES, "word.agrees", "has an English text that is new: 'agrees'"),
        (AGREES, _entry("word.agrees", "is the same", "coincide"), "word.agrees", "was changed: 'agrees'"),
        ('msgstr " del marcador;', 'msgstr "del marcador;', "word.to_land", "begin and end"),
        ('msgctxt "word.agrees"\n', 'msgstuff "word.agrees"\n', "file", "cannot be read as a gettext file"),
    ],
)
def test_a_text_that_does_not_fit_the_english_fails_the_build(
    tmp_path: Path, was: str, now: str, key: str, wrong: str
) -> None:
    """One that lacks, is too many, stands twice, is empty, fuzzy, of another English, or ends otherwise; or no file."""
    specs = shutil.copytree(SPECS, tmp_path / "specs")
    spoil(specs / FILE, was, now)
    with pytest.raises(SpecError) as caught:
        load_model(PLAN, SPANISH, specs)
    assert (caught.value.file, caught.value.key) == (FILE, key)
    assert wrong in str(caught.value)
    assert load_model(PLAN, ENGLISH, specs).edition == load_model().edition


def test_an_unknown_language_is_told() -> None:
    with pytest.raises(SpecError, match=r"words\.xx\.po"):
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
    assert to_look_at(SPANISH, SPECS) == []


def test_the_files_are_what_gettext_reads() -> None:
    """The format by another hand: Python's own compiled catalogues hold the same texts, by context and English."""
    for home in homes(SPECS):
        file = polib.pofile(str(words_file(SPANISH, SPECS, home)))
        catalogue = gettext.GNUTranslations(io.BytesIO(file.to_binary()))
        texts = read_translation(words_file(SPANISH, SPECS, home))
        english = load_words(home or PLAN, ENGLISH, SPECS).tables
        for table, mine in texts.items():
            for key, text in mine.items():
                if text:
                    assert catalogue.pgettext(f"{table}.{key}", english[table][key]) == text


@pytest.mark.parametrize("name", TEXTS)
def test_a_changed_english_text_stops_build_and_check(tmp_path: Path, name: str) -> None:
    """Also when the Spanish was changed with it; nothing is written; it is said what to look at and what to run."""
    file, line, spanish = TEXTS[name]
    tree = _tree(tmp_path)
    spoil(tree / "specs" / f"{file}.{ENGLISH}.toml", line, line.replace(' = "', ' = "really '))
    path = tree / "specs" / f"{file}.{SPANISH}.po"
    spoil(
        path,
        f'"{name}"\nmsgid {line.partition(" = ")[2]}\n{spanish}',
        f'"{name}"\nmsgid {line.partition(" = ")[2]}\n{spanish[:-2]} ya"\n',
    )
    before = {path: path.read_bytes() for path in (tree / "output").iterdir()}
    for command in ("build", "check"):
        code, said = _run(tree, command)
        assert code == 2
        assert said.startswith(f"{file}.{SPANISH}.po, '{name}': has an English text that was changed: 'really ")
        assert " ya', then" in said and f"run: python -m builder translated {name}" in said
    assert {path: path.read_bytes() for path in (tree / "output").iterdir()} == before


def test_the_command_follows_the_english_records_and_drops(tmp_path: Path) -> None:
    """Without a key it adds what is new and marks what changed, with the English of before; what is gone goes later."""
    tree = _tree(tmp_path)
    path = tree / "specs" / FILE
    before = path.read_text(encoding="utf-8")
    spoil(tree / "specs" / "words.en.toml", 'agrees = "agrees"\n', 'agrees = "is the same"\n')
    spoil(tree / "specs" / "words.en.toml", "[label]\n", '[label]\nplanted_row = "New"\n')
    spoil(path, AGREES, AGREES + _entry("label.agreed_once", "Once", "Una vez"))
    code, said = _run(tree, "translated")
    assert code == 1 and said.endswith("es: 3 texts to look at\n")
    assert "word.agrees: changed\n  English was  'agrees'\n  English is   'is the same'\n" in said
    assert "label.planted_row: new\n  English is   'New'\n  translation  ''\n" in said
    assert "label.agreed_once: is no text any more\n" in said
    marked = path.read_text(encoding="utf-8")
    fuzzy = AGREES.replace('msgid "agrees"', 'msgid "is the same"')
    assert f'#, fuzzy\n#| msgid "agrees"\n{fuzzy}' in marked
    planted = _entry("label.planted_row", "New", "")
    assert planted in marked and "agreed_once" in marked
    assert _run(tree, "translated") == (code, said), "asked again it says the same"
    code, said = _run(tree, "translated", "word.agrees", "label.planted_row")
    assert code == 0 and "planted_row" not in said, "a text without a translation was not looked at"
    assert path.read_text(encoding="utf-8") == before.replace(AGREES, fuzzy).replace(
        '\nmsgctxt "label.', f'\n{planted}msgctxt "label.', 1
    )
    assert [text.name for text in to_look_at(SPANISH, tree / "specs")] == ["label.planted_row"]
    spoil(path, planted, _entry("label.planted_row", "New", "Nuevo"))
    assert _run(tree, "translated") == (0, "es: 0 texts to look at\n")
    code, said = _run(tree, "translated", "word.agreees")
    assert code == 2 and "did you mean 'word.agrees'?" in said
