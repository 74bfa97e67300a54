"""What `verify` and `gather` find in hostile workbooks that came back: what no cell of the workbook itself can see."""

from __future__ import annotations

import tempfile
import zipfile
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from builder.engine.audit.verify import verify
from builder.engine.exchange.cellvalues import sheet_parts
from builder.engine.exchange.fill import fill
from builder.engine.exchange.untrusted import Refused
from builder.engine.model import Model
from builder.planner.gather.returned import typed_in
from tests.campaign.hostile import Hostile
from tests.support.hostile import parts_of
from tests.support.many_states import TypedFormula
from tests.support.pasted import paste
from tests.support.workbooks import at, typed_case

FOUND_BY = {  # which command must name the cell, or refuse the file
    "locked cell pasted over": ("verify",),
    "formula typed, no number": ("verify", "gather"),
    "link typed": ("verify", "gather"),
    "formula typed, a number": ("verify", "gather"),
}


def found_in_returned(model: Model, books: Sequence[Hostile], each: int) -> tuple[Counter[str], list[str]]:
    """How many were looked at by kind, and what was missed. A finding must name every changed cell."""
    looked: Counter[str] = Counter()
    missed = []
    with tempfile.TemporaryDirectory(prefix="returned-") as folder:
        bases: dict[str, Path] = {}
        for book in books:
            if book.kind not in FOUND_BY or looked[book.kind] == each:
                continue
            looked[book.kind] += 1
            if book.base not in bases:
                bases[book.base] = Path(folder) / f"{book.base}.xlsx"
                fill(model, typed_case(book.base), bases[book.base])
            path = _written(model, book, bases[book.base], Path(folder) / "returned.xlsx")
            named = {(found.sheet, found.cell) for found in verify(path).findings if found.of_meaning}
            missed += [
                f"{book}: verify is silent on {place}" for place in book.written if at(model, place) not in named
            ]
            if "gather" in FOUND_BY[book.kind] and any(isinstance(v, TypedFormula) for v in book.written.values()):
                try:
                    typed_in(path)
                except Refused:
                    continue
                missed.append(f"{book}: gather takes it")
    return looked, missed


def _written(model: Model, book: Hostile, base: Path, target: Path) -> Path:
    with zipfile.ZipFile(base) as archive:
        sheets = sheet_parts(archive)
    paste(parts_of(base), sheets, {at(model, place): value for place, value in book.written.items()}, target)
    return target
