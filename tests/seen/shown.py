"""What LibreOffice shows of a workbook: words with their places, pictures of pages, the text of every cell as shown."""

from __future__ import annotations

import re
from pathlib import Path
from subprocess import TimeoutExpired
from typing import Any

import numpy as np

from builder.engine.audit.seen import other_dots
from builder.engine.exchange.office import EngineFailed, convert, convert_sheets
from builder.engine.exchange.office_values import FILTER, OPTIONS, sheet_titles
from builder.engine.same import sheet_titles as titles_of
from builder.planner.exchange.pictures import only_sheets
from tests.support.hostile import Parts, pack

DRAWN = ("Theatre right", "Map")  # of a part of the whole workbook: a dial, numbers of every style, shades
# As the cells show it and not as it is: the ninth of the filter's options.
AS_SHOWN = ",".join(["true" if at == 8 else option for at, option in enumerate(OPTIONS.split(","))])
TARGET = re.compile(rb'Target="([^"]*)"')
Words = list[tuple[Any, ...]]  # each with its four sides
Picture = tuple[int, int, int, bytes]  # its height, width and colours, and its dots
Pages = list[tuple[Words, Picture]]
Change = tuple[Parts, str]  # a changed file, and the title of the only sheet that can show it or ""


def pages(pdf: Path) -> Pages:
    """Each page: its words with their places, and its picture."""
    import pymupdf  # here, so that drawing alone does without it

    return [
        (
            [(word[4], *(round(side) for side in word[:4])) for word in page.get_text("words")],
            ((dots := page.get_pixmap(dpi=50)).height, dots.width, dots.n, dots.samples),
        )
        for page in pymupdf.open(pdf)
    ]


def alike(one: Pages, other: Pages) -> bool:
    """Whether two prints show a person the same: the same words within a point, and each colour within a dot."""
    return len(one) == len(other) and all(
        _near(words, others) and _same_dots(picture, another)
        for (words, picture), (others, another) in zip(one, other, strict=True)
    )


def _near(words: Words, others: Words) -> bool:
    return [word[0] for word in words] == [word[0] for word in others] and all(
        abs(side - at) <= 1
        for word, place in zip(words, others, strict=True)
        for side, at in zip(word[1:], place[1:], strict=True)
    )


def _same_dots(picture: Picture, other: Picture) -> bool:
    if picture[:3] != other[:3]:
        return False
    one, two = (np.frombuffer(p[3], np.uint8).reshape(p[:3]) for p in (picture, other))
    return all(other_dots(one[:, :, colour], two[:, :, colour]) is None for colour in range(picture[2]))


def sheet_of(parts: Parts, changed: str) -> str:
    """The title of the only sheet that leads to a part: the sheet itself, its drawing or one of its charts; else ""."""
    titles = titles_of({"xl/workbook.xml": parts["xl/workbook.xml"].decode()})
    for sheet, title in titles.items():
        found = [sheet]
        for part in found:
            folder, _, name = part.rpartition("/")
            targets = TARGET.findall(parts.get(f"{folder}/_rels/{name}.rels", b""))
            found += ["xl/" + target.decode().removeprefix("../") for target in targets if b"../" in target]
        if changed in found:
            return title
    return ""


class Shown:
    """What LibreOffice shows of files; of the good one it is asked once for each sheet, in the same calls.

    `near`: what is off by less than a person sees is the same.
    """

    def __init__(self, good: Parts, folder: Path, near: bool = False) -> None:
        self._good, self._folder, self._near = good, folder, near
        self._before: dict[str, object] = {}

    def same(self, changed: list[Change]) -> list[bool]:
        """Whether each file shows what the good one does, on the pages of its sheet or, without one, altogether."""
        new = sorted({title for _, title in changed} - self._before.keys())
        try:
            shown = self._of([*((self._good, title) for title in new), *changed])
        except EngineFailed:  # which of them, is seen one by one
            return [False] if len(changed) == 1 else [self.same([one])[0] for one in changed]
        except TimeoutExpired:  # beside other work; of a single file it is told
            if len(changed) == 1:
                raise
            half = len(changed) // 2
            return self.same(changed[:half]) + self.same(changed[half:])
        self._before |= dict(zip(new, shown, strict=False))
        return [self._alike(found, title) for found, (_, title) in zip(shown[len(new) :], changed, strict=True)]

    def _alike(self, found: Any, title: str) -> bool:
        before: Any = self._before[title]
        if found == before or not self._near:
            return bool(found == before)
        if title:
            return alike(found, before)
        return found[0] == before[0] and all(map(alike, found[1:], before[1:]))

    def _of(self, files: list[Change]) -> list[object]:
        pages_of = iter(self._printed([(p, t) for p, title in files for t in ([title] if title else DRAWN)]))
        texts_of = iter(self._told([parts for parts, title in files if not title]))
        return [next(pages_of) if title else (next(texts_of), *(next(pages_of) for _ in DRAWN)) for _, title in files]

    def _printed(self, files: list[Change]) -> list[Pages]:
        packed = self._packed([parts for parts, _ in files])
        for path, (_, title) in zip(packed, files, strict=True):
            only_sheets(path, title)
        return [pages(pdf) for pdf in convert(packed, self._folder, "pdf", recalculate=False)]

    def _told(self, files: list[Parts]) -> list[dict[str, bytes]]:
        packed = self._packed(files)
        titles = [sheet_titles(path) for path in packed]
        texts = convert_sheets(packed, self._folder, f"csv:{FILTER}:{AS_SHOWN}", titles, recalculate=False)
        return [{sheet: file.read_bytes() for sheet, file in of_book.items()} for of_book in texts]

    def _packed(self, files: list[Parts]) -> list[Path]:
        return [pack(parts, self._folder / f"{number}.xlsx") for number, parts in enumerate(files)]
