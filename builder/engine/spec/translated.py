"""The texts of another language, as gettext files that any editor of translations opens: `specs/words.<language>.po`.

An entry's context is the `table.key` of the text, its id the English text that the translation was last compared with.
Texts that only one workbook needs stand in a file of that workbook. Where the English was changed since, the command
`translated` marks the entry as fuzzy and keeps the English of before beside it: somebody has to look at it again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path

import polib

from builder.engine.spec.errors import SpecError, nearest
from builder.engine.spec.reading import read_toml

ENGLISH = "en"  # the language of the specs, of case files and of what programs read
COMMAND = "python -m builder translated"
SHARED = ""  # the home of the texts that workbooks share; the others have a workbook's name
HEAD = "The English is in words.en.toml beside this file; the context of an entry is table.key."
METADATA = {"Content-Type": "text/plain; charset=utf-8", "Content-Transfer-Encoding": "8bit"}


@dataclass(frozen=True)
class Text:
    """An English text whose translation nobody has looked at since: `was` its English then ("" when it is new).

    `english` is None for a text that is no more; an empty `translation` is one that lacks.
    """

    home: str
    name: str  # table.key
    was: str = ""
    english: str | None = None
    translation: str = ""


def words_file(language: str, specs: Path, home: str = SHARED) -> Path:
    """Where the texts of a language stand, whether the file is there or not."""
    return specs / home / f"words.{language}.{'toml' if language == ENGLISH else 'po'}"


def homes(specs: Path) -> tuple[str, ...]:
    """Where English texts stand: the shared ones first, then the workbooks that have texts of their own."""
    return SHARED, *sorted(path.parent.name for path in specs.glob(f"*/{words_file(ENGLISH, specs).name}"))


def read_translation(path: Path) -> dict[str, dict[str, str]]:
    """The translated texts of a file by table and key, those without a translation left out. Raises SpecError."""
    tables: dict[str, dict[str, str]] = {}
    for entry in _entries(path):
        table, _, key = (entry.msgctxt or "").partition(".")
        if entry.msgstr or not entry.msgid:
            tables.setdefault(table, {})[key] = entry.msgstr
    return tables


def demand_looked_at(language: str, specs: Path, workbook: str) -> None:
    """Refuses, as a SpecError, a text of a workbook whose English is not the one that its translation was made from."""
    waiting = [text for text in to_look_at(language, specs) if text.home in (SHARED, workbook)]
    if not waiting:
        return
    text = waiting[0]
    file = words_file(language, specs, text.home).relative_to(specs).as_posix()
    more = f" (and {len(waiting) - 1} more, which the command lists without a key)" if waiting[1:] else ""
    command = f"{COMMAND} {text.name}{more}"
    if text.english is None:
        raise SpecError(file, text.name, "is no text of the English words", f"Mend the key, or drop it: {command}")
    if not text.translation and text.english:
        wrong = f"has no text for {text.english!r}"
        raise SpecError(file, text.name, wrong, f"Run: {COMMAND}, which adds the entry; then write its msgstr{more}")
    wrong = f"has an English text that {'was changed' if text.was else 'is new'}: {text.english!r}"
    raise SpecError(file, text.name, wrong, f"Look at its translation {text.translation!r}, then run: {command}")


def to_look_at(language: str, specs: Path) -> list[Text]:
    """The texts to look at, in the order of the words, then those that are gone."""
    found, gone = [], []
    for home in homes(specs):
        held = {entry.msgctxt: entry for entry in _entries(words_file(language, specs, home))}
        for name, english in _english(specs, home):
            entry = held.pop(name, None)
            if entry is None:
                found.append(Text(home, name, "", english))
            elif entry.fuzzy or entry.msgid != english or (english and not entry.msgstr):
                was = entry.msgid if entry.msgid != english else entry.previous_msgid or ""
                found.append(Text(home, name, was, english, entry.msgstr))
        gone += [Text(home, str(name), entry.msgid) for name, entry in held.items()]
    return found + gone


def follow_english(language: str, specs: Path) -> list[Text]:
    """What is to be looked at, after the files of a language were brought in step with the English.

    What is new is added, what changed is marked as fuzzy, with the English of before; nothing is dropped.
    """
    waiting = to_look_at(language, specs)
    for home in homes(specs):
        _write(language, specs, home, {text.name: text for text in waiting if text.home == home}, looked_at=False)
    return waiting


def look_at(language: str, specs: Path, named: Collection[str] | None) -> list[Text]:
    """Records that the named texts (None: all of them) were looked at, drops those that are gone, and gives both.

    A text without a translation is none that was looked at. Raises SpecError for a name that is no text's.
    """
    waiting = follow_english(language, specs)
    known = {text.name for text in waiting} | {name for home in homes(specs) for name, _ in _english(specs, home)}
    for name in named or ():
        if name not in known:
            file = words_file(language, specs).name
            raise SpecError(file, name, "is no text", f"Give table.key; {nearest(name, known)}")
    done = [
        text
        for text in waiting
        if text.english is None or ((named is None or text.name in named) and (text.translation or not text.english))
    ]
    for home in homes(specs):
        _write(language, specs, home, {text.name: text for text in done if text.home == home}, looked_at=True)
    return done


def told(text: Text) -> Iterator[str]:
    """The lines that show a text: what its English was, what it is, its translation."""
    if text.english is None:
        yield f"{text.name}: is no text any more"
        return
    yield f"{text.name}: {'changed' if text.was else 'new'}"
    if text.was:
        yield f"  English was  {text.was!r}"
    yield f"  English is   {text.english!r}"
    yield f"  translation  {text.translation!r}"


def _english(specs: Path, home: str) -> Iterator[tuple[str, str]]:
    """Name and English of every text of a home, in the order in which they are written."""
    path = words_file(ENGLISH, specs, home)
    for table, texts in (read_toml(path) if path.exists() else {}).items():
        yield from ((f"{table}.{key}", text) for key, text in texts.items())


def _entries(path: Path) -> polib.POFile:
    """The entries of a file; none if it is not there. Raises SpecError for a file that is no gettext file."""
    if not path.exists():
        return polib.POFile()
    try:
        found = polib.pofile(str(path), encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise SpecError(path.name, "file", f"cannot be read as a gettext file ({error})", "Mend that line") from error
    for name, times in Counter(entry.msgctxt for entry in found).items():
        if times > 1:
            raise SpecError(path.name, str(name), f"stands in it {times} times", "Keep one")
    return found


def _write(language: str, specs: Path, home: str, changed: dict[str, Text], looked_at: bool) -> None:
    """Writes a file in the order of the English; of the `changed` those that are no more go when `looked_at`."""
    path = words_file(language, specs, home)
    before = _entries(path)
    held = {entry.msgctxt: entry for entry in before}
    file = polib.POFile(wrapwidth=0)
    file.header, file.metadata = before.header or HEAD, {"Language": language, **METADATA}
    english = dict(_english(specs, home))
    for name in [*english, *(name for name in held if name not in english)]:
        entry = held.get(name)
        if name in changed:
            entry = _looked_at(changed[name]) if looked_at else _waiting(changed[name], entry)
        if entry is not None:
            file.append(entry)
    if file:
        file.save(str(path), newline="\n")


def _looked_at(text: Text) -> polib.POEntry | None:
    """The entry of a text that was looked at; None for one that is no more."""
    if text.english is None:
        return None
    return polib.POEntry(msgctxt=text.name, msgid=text.english, msgstr=text.translation)


def _waiting(text: Text, entry: polib.POEntry | None) -> polib.POEntry | None:
    """The entry of a text to be looked at: as it is, or new, or fuzzy where the English is another."""
    if entry is None:
        return polib.POEntry(msgctxt=text.name, msgid=text.english)
    if text.english is not None and entry.msgid != text.english:
        entry.previous_msgid, entry.msgid, entry.flags = entry.msgid, text.english, ["fuzzy"]
    return entry
