"""python -m tests.seen: drawn changes of a workbook's XML, each found, refused, or shown by LibreOffice as before.

What `verify` calls clean is shown by LibreOffice, as is the file unchanged, many in one call, as soon as they are many:
the pages of the sheet that alone leads to the changed part; of a part of the whole workbook the text of every cell as
it is shown, and the pages of two sheets with all there is to draw. Another text, place of a word or picture is a miss.
Status 1 if something was missed. A run that ended early goes on with `--from` and the number of changes that were done.
"""

from __future__ import annotations

import argparse
import random
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from builder.engine.audit.verify import WORDS
from builder.engine.exchange.fill import fill
from builder.engine.model import load_model
from tests.seen.drawn import draw
from tests.seen.shown import Change, Shown, sheet_of
from tests.support.hostile import parts_of
from tests.support.in_memory import report_on
from tests.support.workbooks import typed_case

AT_ONCE = 8  # files that LibreOffice shows in one call


def main() -> int:
    """Prints how many were found, refused and clean, and every miss."""
    options = argparse.ArgumentParser(prog="python -m tests.seen", description=__doc__)
    options.add_argument("--changes", type=int, default=5000)
    options.add_argument(
        "--from", type=int, default=0, dest="start", help="draws so many first and judges none of them"
    )
    options.add_argument("--seed", type=int, default=19)
    options.add_argument(
        "--minutes", type=float, default=1e9, help="drawing ends after so many, however many there were"
    )
    chosen = options.parse_args()
    chance, counts, begun = random.Random(chosen.seed), Counter[str](), time.monotonic()
    with tempfile.TemporaryDirectory(prefix="seen-") as name:
        folder = Path(name)
        fill(load_model(), typed_case("ready"), folder / "good.xlsx")
        good = parts_of(folder / "good.xlsx")
        waiting: list[tuple[str, Change]] = []
        shown, number = Shown(good, folder), 0
        while number < chosen.start + chosen.changes and time.monotonic() - begun < 60 * chosen.minutes:
            told, parts = draw(good, chance)
            number += 1
            if number <= chosen.start:
                continue
            verdict = WORDS[report_on(parts).verdict] if parts != good else "unchanged"
            counts[verdict] += 1
            if verdict == "clean":
                lost = next((part for part in good if parts.get(part) != good[part]), "")
                waiting.append((told, (parts, sheet_of(good, lost) if lost in parts else "")))
            if len(waiting) == AT_ONCE:
                show(waiting, shown, counts)
                waiting.clear()
                print(f"to go on: --from {number};", told_counts(counts, begun), flush=True)
        show(waiting, shown, counts)
        print(f"to go on: --from {number};", told_counts(counts, begun), flush=True)
    return 1 if counts["MISSED"] else 0


def show(waiting: Sequence[tuple[str, Change]], shown: Shown, counts: Counter[str]) -> None:
    """Shows clean changes, counts how they end and prints each that shows otherwise."""
    same = shown.same([change for _, change in waiting]) if waiting else []
    for (told, _), alike in zip(waiting, same, strict=True):
        counts["shown as before" if alike else "MISSED"] += 1
        if not alike:
            print("MISSED", told, flush=True)


def told_counts(counts: Counter[str], begun: float) -> str:
    drawn = sum(counts[word] for word in (*WORDS, "unchanged"))
    ends = ", ".join(f"{count:,} {end}" for end, count in counts.most_common())
    return f"{drawn:,} drawn in {(time.monotonic() - begun) / 60:.0f} minutes: {ends}"


if __name__ == "__main__":
    raise SystemExit(main())
