"""python -m tests.seen: drawn changes of a workbook's XML, each found, refused, or shown by LibreOffice as before.

What `verify` calls clean is printed by LibreOffice, as is the file unchanged; a page with another word, another place
of a word or another picture is a miss. Status 1 if there is one.
"""

from __future__ import annotations

import argparse
import random
import tempfile
from collections import Counter
from pathlib import Path

from builder.audit.verify import WORDS
from builder.exchange.fill import fill
from builder.exchange.office import EngineFailed, convert
from builder.model import load_model
from tests.seen.drawn import draw
from tests.support.hostile import Parts, pack, parts_of
from tests.support.in_memory import report_on
from tests.support.workbooks import typed_case


def pages(pdf: Path) -> list[tuple[object, bytes]]:
    """Each page: its words with their places, and its picture."""
    import pymupdf  # here, so that drawing alone does without it

    return [
        (
            [(word[4], *(round(side) for side in word[:4])) for word in page.get_text("words")],
            page.get_pixmap(dpi=50).samples,
        )
        for page in pymupdf.open(pdf)
    ]


def shown(parts: Parts, folder: Path) -> list[tuple[object, bytes]]:
    """What LibreOffice prints of a file."""
    return pages(convert([pack(parts, folder / "drawn.xlsx")], folder, "pdf", recalculate=False)[0])


def main() -> int:
    """Prints how many were found, refused and clean, and every miss."""
    options = argparse.ArgumentParser(prog="python -m tests.seen", description=__doc__)
    options.add_argument("--changes", type=int, default=5000)
    options.add_argument("--seed", type=int, default=19)
    chosen = options.parse_args()
    chance, counts, missed = random.Random(chosen.seed), Counter[str](), 0
    with tempfile.TemporaryDirectory(prefix="seen-") as name:
        folder = Path(name)
        fill(load_model(), typed_case("ready"), folder / "good.xlsx")
        good = parts_of(folder / "good.xlsx")
        before = shown(good, folder)
        for _ in range(chosen.changes):
            told, parts = draw(good, chance)
            verdict = WORDS[report_on(parts).verdict] if parts != good else "unchanged"
            counts[verdict] += 1
            if verdict == "clean":
                try:
                    same = shown(parts, folder) == before
                except EngineFailed:
                    same = False
                counts["clean, shown otherwise"] += not same
                missed += not same
                if not same:
                    print("MISSED", told, flush=True)
    print(", ".join(f"{count} {verdict}" for verdict, count in counts.most_common()))
    return 1 if missed else 0


if __name__ == "__main__":
    raise SystemExit(main())
