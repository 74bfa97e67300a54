"""python -m tests.seen: drawn changes of a workbook's XML, each found, refused, or shown by LibreOffice as before.

What `verify` calls clean is printed by LibreOffice, as is the file unchanged; a page with another word, another place
of a word or another picture is a miss. A change in a part that one sheet alone leads to is looked for on the pages of
that sheet, any other on all pages. Status 1 if something was missed.
"""

from __future__ import annotations

import argparse
import random
import re
import tempfile
import time
from collections import Counter
from functools import cache
from pathlib import Path

from builder.audit.verify import WORDS
from builder.exchange.fill import fill
from builder.exchange.office import EngineFailed, convert
from builder.exchange.pictures import only_sheets
from builder.model import load_model
from builder.same import sheet_titles
from tests.seen.drawn import draw
from tests.support.hostile import Parts, pack, parts_of
from tests.support.in_memory import report_on
from tests.support.workbooks import typed_case

AT_ONCE = 12  # files that LibreOffice prints in one call
TARGET = re.compile(rb'Target="([^"]*)"')
Pages = list[tuple[object, bytes]]


def pages(pdf: Path) -> Pages:
    """Each page: its words with their places, and its picture."""
    import pymupdf  # here, so that drawing alone does without it

    return [
        (
            [(word[4], *(round(side) for side in word[:4])) for word in page.get_text("words")],
            page.get_pixmap(dpi=50).samples,
        )
        for page in pymupdf.open(pdf)
    ]


def sheet_of(parts: Parts, changed: str) -> str:
    """The title of the only sheet that leads to a part: the sheet itself, its drawing or one of its charts; else ""."""
    titles = sheet_titles({"xl/workbook.xml": parts["xl/workbook.xml"].decode()})
    for sheet, title in titles.items():
        found = [sheet]
        for part in found:
            folder, _, name = part.rpartition("/")
            targets = TARGET.findall(parts.get(f"{folder}/_rels/{name}.rels", b""))
            found += ["xl/" + target.decode().removeprefix("../") for target in targets if b"../" in target]
        if changed in found:
            return title
    return ""


class Printed:
    """Pages of files, all or those of one sheet; those of the good file are printed once."""

    def __init__(self, good: Parts, folder: Path) -> None:
        self._good, self._folder = good, folder
        self._before = cache(lambda title: self._pages([(good, title)])[0])

    def same(self, changed: list[tuple[Parts, str]]) -> list[bool]:
        """Whether each file shows on the pages of this sheet what the good one does."""
        try:
            printed = self._pages(changed)
        except EngineFailed:  # which of them, is seen one by one
            return [False] if len(changed) == 1 else [self.same([one])[0] for one in changed]
        return [found == self._before(title) for found, (_, title) in zip(printed, changed, strict=True)]

    def _pages(self, files: list[tuple[Parts, str]]) -> list[Pages]:
        packed = []
        for number, (parts, title) in enumerate(files):
            packed.append(pack(parts, self._folder / f"{number}.xlsx"))
            if title:
                only_sheets(packed[-1], title)
        return [pages(pdf) for pdf in convert(packed, self._folder, "pdf", recalculate=False)]


def main() -> int:
    """Prints how many were found, refused and clean, and every miss."""
    options = argparse.ArgumentParser(prog="python -m tests.seen", description=__doc__)
    options.add_argument("--changes", type=int, default=5000)
    options.add_argument("--seed", type=int, default=19)
    options.add_argument(
        "--minutes", type=float, default=1e9, help="drawing ends after so many, however many there were"
    )
    chosen = options.parse_args()
    chance, counts, begun = random.Random(chosen.seed), Counter[str](), time.monotonic()
    waiting: list[tuple[str, Parts, str]] = []
    with tempfile.TemporaryDirectory(prefix="seen-") as name:
        folder = Path(name)
        fill(load_model(), typed_case("ready"), folder / "good.xlsx")
        good = parts_of(folder / "good.xlsx")
        printed = Printed(good, folder)

        def look() -> None:
            for (told, _, _), same in zip(waiting, printed.same([(p, t) for _, p, t in waiting]), strict=True):
                counts["clean, shown as before" if same else "MISSED"] += 1
                if not same:
                    print("MISSED", told, flush=True)
            waiting.clear()
            print(told_counts(counts, begun), flush=True)

        for _ in range(chosen.changes):
            if time.monotonic() - begun > 60 * chosen.minutes:
                break
            told, parts = draw(good, chance)
            verdict = WORDS[report_on(parts).verdict] if parts != good else "unchanged"
            counts[verdict] += 1
            if verdict == "clean":
                lost = next((part for part in good if parts.get(part) != good[part]), "")
                waiting.append((told, parts, sheet_of(good, lost) if lost in parts else ""))
                if len(waiting) == AT_ONCE:
                    look()
        if waiting:
            look()
    return 1 if counts["MISSED"] else 0


def told_counts(counts: Counter[str], begun: float) -> str:
    drawn = sum(counts[word] for word in (*WORDS, "unchanged"))
    ends = ", ".join(f"{count:,} {end}" for end, count in counts.most_common())
    return f"{drawn:,} drawn in {(time.monotonic() - begun) / 60:.0f} minutes: {ends}"


if __name__ == "__main__":
    raise SystemExit(main())
