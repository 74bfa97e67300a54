"""Words that case files and programs have otherwise than a workbook shows them: zone3 for "3 mm zone"."""

from __future__ import annotations

from collections.abc import Mapping
from copy import copy
from functools import cache
from pathlib import Path
from typing import Any

from builder.engine.spec.reading import read_toml
from builder.engine.spec.words import ENGLISH, Words, load_words

FILE = "in_files.toml"


@cache
def file_words(specs: Path) -> Mapping[str, str]:
    """The words in files, by their key of [choice]; none where the specs have no such file."""
    path = specs / FILE
    return {key: str(word) for key, word in read_toml(path).items()} if path.exists() else {}


@cache
def words_of_files(workbook: str, specs: Path, english: Words | None = None) -> Words:
    """The English words of a workbook, with those of files where it shows others; `english`: where they are at hand."""
    words = copy(english or load_words(workbook, ENGLISH, specs))
    words.tables = {**words.tables, "choice": {**words.tables["choice"], **file_words(specs)}}
    return words


def as_in_files(words: Words, value: Any) -> Any:
    """A value of a workbook as files have it; what is none of these words stays."""
    return _by_shown(words).get(value, value) if isinstance(value, str) else value


def as_shown(words: Words, value: Any) -> Any:
    """A value of a file as a workbook with these words shows it; what is none of these words stays."""
    shown = {word: words.get("choice", key) for key, word in file_words(words.home).items()}
    return shown.get(value, value) if isinstance(value, str) else value


def in_edition(words: Words, older: Mapping[str, str], value: Any) -> Any:
    """A value of a workbook with these words, as an edition with other texts ("choice.key") has it."""
    keys = {words.get("choice", key): key for key in file_words(words.home)}
    key = keys.get(value) if isinstance(value, str) else None
    return value if key is None else older.get(f"choice.{key}", file_words(words.home)[key])


def of_edition(words: Words, older: Mapping[str, str], value: Any) -> Any:
    """A value of an edition with these texts as the files of a workbook with these words have it."""
    found = {older[f"choice.{key}"]: word for key, word in file_words(words.home).items() if f"choice.{key}" in older}
    return found.get(value, value) if isinstance(value, str) else value


def _by_shown(words: Words) -> dict[str, str]:
    return {words.get("choice", key): word for key, word in file_words(words.home).items()}
