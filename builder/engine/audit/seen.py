"""The last witness: what LibreOffice prints of a returned file, against a freshly filled one with the same inputs.

Of the sheets that a workbook names for it in its workbook.toml. It does not know how a file can be made to show
something else, so it also finds ways that nobody has thought of.
"""

from __future__ import annotations

import math
import tempfile
from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

from builder.engine.audit.book import view_of
from builder.engine.audit.expected import which_of
from builder.engine.audit.finding import Finding, finding
from builder.engine.audit.results import typed_in
from builder.engine.exchange.fill import fill
from builder.engine.exchange.printed import DOTS_A_POINT, Page, Words, printed
from builder.engine.exchange.untrusted import Package, open_untrusted
from builder.engine.model import Model
from builder.engine.same import DECIMAL
from builder.engine.spec.reading import SPECS

MOVED = 3.0  # points; what LibreOffice saves itself moves by 0.2
SHADE, DOTS = 64, 8  # of 255; dots that may differ by more, with all dots beside them
BESIDE = 2  # dots, within which another one that differs is near


def compare_seen(package: Package, lines: int | None = None, specs: Path = SPECS) -> Iterator[Finding]:
    """What its pages show otherwise. The file must be of this edition. Raises EngineMissing, EngineFailed."""
    book = view_of(package)
    model = which_of(book.sheets, lines, specs).model()
    titles = printed_sheets(model)
    with tempfile.TemporaryDirectory(prefix="fresh-") as folder:
        fresh = Path(folder) / "fresh.xlsx"
        fill(model, typed_in(model, book), fresh)
        built = open_untrusted(fresh).parts
    yield from compare_pages(titles, *printed([built, package.parts], titles))


def printed_sheets(model: Model) -> list[str]:
    """The titles of the sheets whose pages are compared."""
    return [model.spec.sheet_title(s.key) for s in model.spec.sheets if s.serves == model.spec.compared]


def compare_pages(titles: Sequence[str], wanted: Sequence[Page], found: Sequence[Page]) -> Iterator[Finding]:
    """Page by page: words that are missing, other or elsewhere; then the picture. One sheet is named if it is one."""
    sheet = ", ".join(titles)
    if len(wanted) != len(found):
        yield finding("seen_pages", sheet, expected=len(wanted), found=len(found))
    for number, (one, other) in enumerate(zip(wanted, found, strict=False), start=1):
        sheet = titles[number - 1] if len(titles) == len(wanted) else ", ".join(titles)
        page = str(number)
        lost, new, moved = compare_words(one.words, other.words)
        if lost or new:
            yield finding("seen_words", sheet, page, expected=" ".join(lost), found=" ".join(new))
        if moved:
            yield finding("seen_moved", sheet, page, found=" ".join(moved))
        spot = other_dots(one.picture, other.picture)
        if spot is not None:
            yield finding("seen_picture", sheet, page, found=f"{spot[0]:.0f}, {spot[1]:.0f}")


def compare_words(wanted: Words, found: Words) -> tuple[list[str], list[str], list[str]]:
    """Words that are missing, that are new, and that stand elsewhere; a decimal comma is a point."""
    there, lost, moved = defaultdict(list), [], []
    for text, *place in found:
        there[DECIMAL.sub(".", text)].append(place)
    for text, *place in wanted:
        places = there[DECIMAL.sub(".", text)]
        if not places:
            lost.append(text)
            continue
        far, nearest = min((math.dist(one, place), one) for one in places)
        places.remove(nearest)
        if far > MOVED:
            moved.append(text)
    return lost, [text for text, places in there.items() for _ in places], moved


def other_dots(wanted: Any, found: Any) -> tuple[float, float] | None:
    """The points from the left and the top of the middle of what two pictures show otherwise; None: nothing."""
    if wanted.shape != found.shape:
        return 0.0, 0.0
    odd = _unlike(wanted, found) | _unlike(found, wanted)
    odd &= _in_company(odd)
    if odd.sum() <= DOTS:
        return None
    rows, columns = np.nonzero(odd)
    return float(np.median(columns)) / DOTS_A_POINT, float(np.median(rows)) / DOTS_A_POINT


def _in_company(odd: Any) -> Any:
    """The dots with another near them: in small type single ones differ where an edge moves a little."""
    around = np.pad(odd, BESIDE)
    height, width = odd.shape
    spots = product(range(2 * BESIDE + 1), repeat=2)
    return sum(around[down : down + height, right : right + width].astype(np.int16) for down, right in spots) > 1


def _unlike(one: Any, other: Any) -> Any:
    """The dots of a picture that are like no dot of the other at their place or beside it."""
    height, width = one.shape
    around = np.pad(other.astype(np.int16), 1, mode="edge")
    nearest = np.full(one.shape, 255, dtype=np.int16)
    for down in range(3):
        for right in range(3):
            beside = around[down : down + height, right : right + width]
            np.minimum(nearest, np.abs(one.astype(np.int16) - beside), out=nearest)
    return nearest > SHADE
