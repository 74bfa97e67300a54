"""What a file shows as it is opened for the first time, against what it shows computed: `python -m tests.opened`.

A preview, a telephone or a protected view shows what is stored. Each workbook of `output/`, or each file named, is
printed twice by LibreOffice, as it is stored and computed anew, and told in text as the cells show it; pages (words,
places, pictures) and cells must be the same to the eye. `--locale es-ES`: in an office of that country. Exit 1 if
anything differs.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from builder.engine.exchange import office
from builder.engine.exchange.office_values import FILTER, sheet_titles
from tests.seen.shown import AS_SHOWN, alike, pages
from tests.validated import GIVEN_OUT

TOLD = 5  # cells or pages of a file that are told
BOTH = {"stored": False, "computed": True}


def cells_apart(path: Path, folder: Path, locale: str = office.ENGLISH_NUMBERS) -> tuple[int, list[str]]:
    """How many lines of cells a file shows, and those that show something else once they are computed."""
    titles, shown = sheet_titles(path), []
    for name, computed in BOTH.items():
        target = folder / name
        target.mkdir()
        kind = f"csv:{FILTER}:{AS_SHOWN}"
        (files,) = office.convert_sheets([path], target, kind, [titles], computed, locale)
        shown.append({title: file.read_text(encoding="utf-8").splitlines() for title, file in files.items()})
    stored, now = shown
    apart = [
        f"{title} line {number}: stored {one}, computed {other}"
        for title, lines in stored.items()
        for number, (one, other) in enumerate(zip(lines, now[title], strict=True), start=1)
        if one != other
    ]
    return sum(map(len, stored.values())), apart


def pages_apart(path: Path, folder: Path, locale: str = "") -> tuple[int, list[str]]:
    """How many pages a file prints, and those that print something else once it is computed."""
    printed = []
    for name, computed in BOTH.items():
        target = folder / f"{name}-pages"
        target.mkdir()
        (pdf,) = office.convert([path], target, "pdf", computed, locale)
        printed.append(pages(pdf))
    stored, now = printed
    if len(stored) != len(now):
        return len(stored), [f"{len(stored)} pages stored, {len(now)} computed"]
    apart = []
    for number, (one, other) in enumerate(zip(stored, now, strict=True), start=1):
        if one != other and not alike([one], [other]):
            words = [word[0] for word in one[0] if word not in other[0]][:TOLD]
            apart.append(f"page {number}: {' '.join(words) or 'the picture'}")
    return len(stored), apart


def main(arguments: Sequence[str] | None = None) -> int:
    """0: each file shows the same."""
    parser = argparse.ArgumentParser(prog="python -m tests.opened", description=__doc__)
    parser.add_argument("files", nargs="*", type=Path, metavar="FILE.xlsx")
    parser.add_argument("--locale", default=office.ENGLISH_NUMBERS, help="of the office: es-ES, de-DE, tr-TR")
    options, wrong = parser.parse_args(arguments), 0
    for path in options.files or sorted(GIVEN_OUT.glob("*.xlsx")):
        with tempfile.TemporaryDirectory(prefix="opened-") as name:
            lines, cells = cells_apart(path, Path(name), options.locale)
            count, paper = pages_apart(path, Path(name), options.locale)
        print(*cells[:TOLD], *paper[:TOLD], sep="\n", end="\n" if cells or paper else "")
        told = f"{count} pages, {len(paper)} differ", f"{lines:,} lines of cells, {len(cells)} differ"
        print(path.name, *told, sep=" | ", flush=True)
        wrong += len(cells) + len(paper)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
