"""Labels, choices and sentences, one home for each: English as TOML, other languages as gettext files."""

from __future__ import annotations

from pathlib import Path

from builder.engine.spec.errors import SpecError, nearest
from builder.engine.spec.reading import read_toml
from builder.engine.spec.translated import ENGLISH as ENGLISH
from builder.engine.spec.translated import demand_looked_at, read_translation, words_file

TABLES = (
    *("word", "label", "choice", "point", "title", "note", "sheet", "help", "text", "unit", "refusal", "finding"),
    *("hazard", "sequence", "harm", "severity", "residual"),
)


class Words:
    """The words of one language, by table and key; a missing key is a SpecError."""

    def __init__(self, path: Path, *more: Path) -> None:
        """`more`: files of words that only one workbook needs; a word has one home among them."""
        self.file, self.home = path.name, path.parent
        self.tables = _read(path)
        for other in more:
            for table, texts in _read(other).items():
                twice = sorted(set(texts) & set(self.tables.get(table, {})))
                if twice:
                    raise SpecError(other.name, f"{table}.{twice[0]}", f"has a text in {path.name} too", "Keep one")
                self.tables[table] = self.tables.get(table, {}) | texts

    def get(self, table: str, key: str) -> str:
        """The text of `table.key`."""
        try:
            return self.tables[table][key]
        except KeyError:
            near = nearest(key, self.tables.get(table, {}))
            raise SpecError(self.file, f"{table}.{key}", "has no text", f"Write it under [{table}]; {near}") from None

    @property
    def decimal_sign(self) -> str:
        """What stands in a sentence before the decimals of a number."""
        return self.tables.get("text", {}).get("decimal_sign", ".")

    def has(self, table: str, key: str) -> bool:
        """Whether `table.key` has a text."""
        return key in self.tables.get(table, {})

    def notes(self, block: str) -> list[str]:
        """The lines of the note that is printed below the title of a block; none if it has no note."""
        return self.tables.get("note", {}).get(block, "").splitlines()

    def label(self, key: str) -> str:
        """The label of a row; a generated row (state_x, refused_x) has the label of its input."""
        if self.has("label", key):
            return self.tables["label"][key]
        for prefix in (
            *("state_", "refused_", "typed_", "judged_", "accepted_"),
            *("conflict_", "outside_", "lowest_", "highest_", "place_", "number_"),
        ):
            if key.startswith(prefix) and self.has("label", key.removeprefix(prefix)):
                return self.tables["label"][key.removeprefix(prefix)]
        return self.get("label", key)


def _read(path: Path) -> dict[str, dict[str, str]]:
    tables: dict[str, dict[str, str]] = read_toml(path) if path.suffix == ".toml" else read_translation(path)
    for table, texts in tables.items():
        if table not in TABLES:
            raise SpecError(path.name, table, "is not a table of words", f"Use one of {', '.join(TABLES)}")
        if not isinstance(texts, dict):
            raise SpecError(path.name, table, "is a table of words and has none", f"Write [{table}] and texts below it")
        for key, text in texts.items():
            if not isinstance(text, str):
                raise SpecError(path.name, f"{table}.{key}", f"is {text!r}, which is no text", "Write it in quotes")
    return tables


def languages(specs: Path) -> tuple[str, ...]:
    """The languages that have a file of words, English first."""
    return ENGLISH, *sorted(path.name.split(".")[1] for path in specs.glob("words.*.po"))


def shared_words(specs: Path) -> list[Words]:
    """The words that workbooks share, of each language, English first."""
    return [Words(words_file(language, specs)) for language in languages(specs)]


def load_words(workbook: str, language: str, specs: Path) -> Words:
    """The words of a workbook: those that workbooks share, and its own. Raises SpecError.

    Another language has the keys of English, no more and no fewer, the same spaces at the ends of its texts, and each
    of its texts was looked at since the English one was last changed.
    """
    known = languages(specs)
    if language not in known:
        do = f"Write it, or {nearest(language, known)}"
        raise SpecError(words_file(language, specs).name, "file", "is not there", do)
    if language != ENGLISH:
        demand_looked_at(language, specs, workbook)
    words = _load(workbook, language, specs)
    if language != ENGLISH:
        _like_english(words, _load(workbook, ENGLISH, specs))
    return words


def _load(workbook: str, language: str, specs: Path) -> Words:
    own = words_file(language, specs, workbook)
    return Words(words_file(language, specs), *([own] if own.exists() else []))


def _like_english(words: Words, english: Words) -> None:
    for table, texts in english.tables.items():
        for key, text in texts.items():
            if _ends(text) != _ends(words.tables[table][key]):
                raise SpecError(
                    words.file,
                    f"{table}.{key}",
                    f"does not begin and end with the spaces of the English {text!r}",
                    "Sentences are joined of such texts: give it the same ones",
                )


def _ends(text: str) -> tuple[str, str]:
    """The spaces before and after a text."""
    return text[: len(text) - len(text.lstrip(" "))], text[len(text.rstrip(" ")) :]
