"""A dump in another language, told as what it says otherwise than the English one of the same specs.

The texts of the language stand there whole. Each other line is the English one with its sheet titles and quoted texts
put into the language; a line that is not what this gives stands there too, after its number.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from builder.engine.addresses import PLAIN

BAR, WORDS, LOOK, LINE = " | ", "words | ", "look | ", "line "
TITLE = re.compile(r"'((?:[^']|'')+)'!|\b([A-Za-z_]\w*)!")
PLACE = re.compile(f"(.+?) ({PLAIN})(?: to ({PLAIN}))?")  # a typed cell in words, as in Readings B61
TEXT = re.compile(r'"((?:[^"]|"")*)"')


def told(lines: Sequence[str], english: Sequence[str]) -> Iterator[str]:
    """The lines of a file from which `whole` makes `lines` again, one a text or a line."""
    yield from (line for line in lines if line.startswith(WORDS))
    into = _Into(english, lines)
    others = [line for line in lines if not line.startswith(WORDS)]
    guessed = [into.line(line) for line in english if not line.startswith(WORDS)]
    for number, line in enumerate(others):
        if number >= len(guessed) or guessed[number] != line:
            yield f"{LINE}{number}{BAR}{line}"
    if len(others) < len(guessed):
        yield f"{LINE}{len(others)}"


def whole(found: Sequence[str], english: Sequence[str]) -> Iterator[str]:
    """The lines of the dump, in the order of the English one. Raises ValueError for a line that is none."""
    words = [line for line in found if line.startswith(WORDS)]
    into = _Into(english, words)
    others: dict[int, str] = {}
    end: int | None = None
    for line in found[len(words) :]:
        number, bar, text = line.removeprefix(LINE).partition(BAR)
        if not line.startswith(LINE) or not number.isdigit():
            raise ValueError(f"no line of a dump beside another: {line[:60]}")
        if bar:
            others[int(number)] = text
        else:
            end = int(number)
    guessed = [into.line(line) for line in english if not line.startswith(WORDS)]
    count = end if end is not None else max([len(guessed), *(number + 1 for number in others)])
    lines = [others.get(number) or guessed[number] for number in range(count)]
    at = next((n for n, line in enumerate(english) if line.startswith(WORDS)), len(english))
    yield from (*lines[:at], *words, *lines[at:])


class _Into:
    """Titles and texts of one dump to those of another under the same keys; of two under one text, the first."""

    def __init__(self, english: Sequence[str], other: Sequence[str]) -> None:
        said = {key: text for key, text in _texts(other)}
        self._texts: dict[str, str] = {}
        self._titles: dict[str, str] = {}
        for key, text in _texts(english):
            table = self._titles if key.startswith("sheet.") else self._texts
            table.setdefault(text, said.get(key, text))
        self._to = said.get("word.cells_to", "")

    def line(self, line: str) -> str:
        """An English line in the language."""
        if line.startswith(LOOK):
            return line
        start, bar, rest = line.partition("!")
        copied, _, title = start.rpartition(BAR)
        if bar and title in self._titles:
            start = f"{copied}{BAR}{self._titles[title]}" if copied else self._titles[title]
            line = f"{start}{bar}{TITLE.sub(self._title, rest)}"
        return TEXT.sub(self._text, line)

    def _title(self, found: re.Match[str]) -> str:
        title = found[1] or found[2]
        return written(self._titles[title]) + "!" if title in self._titles else found[0]

    def _text(self, found: re.Match[str]) -> str:
        text = found[1].replace('""', '"')
        place = PLACE.fullmatch(text)
        if place and place[1] in self._titles:
            text = f"{self._titles[place[1]]} {place[2]}" + (f"{self._to}{place[3]}" if place[3] else "")
        return '"' + self._texts.get(text, text).replace('"', '""') + '"'


def _texts(lines: Sequence[str]) -> Iterator[tuple[str, str]]:
    for line in lines:
        if line.startswith(WORDS):
            _, key, text = line.split(BAR, 2)
            yield key, text


def written(title: str) -> str:
    """A sheet's title as a formula has it."""
    return title if title.isascii() and title.isalnum() else "'" + title.replace("'", "''") + "'"
