"""Stored results of an older edition against those that another program computes from the file itself."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

from builder.engine.audit.book import BookView
from builder.engine.audit.expected import PlannedCells
from builder.engine.audit.finding import Finding, finding
from builder.engine.exchange.engines import missing, recalculated_text
from builder.engine.exchange.untrusted import Package
from builder.engine.same import same, says_the_same

ENGINES = ("libreoffice", "ironcalc", "gnumeric")  # the first that is installed


def engine_at_hand() -> str:
    """The program by which an older file can be computed; "" when none is installed."""
    return next((engine for engine in ENGINES if missing(engine) is None), "")


def compare_recomputed(planned: PlannedCells, package: Package, book: BookView, engine: str) -> Iterator[Finding]:
    """Each formula cell that stores what the engine does not compute. Its formulas are compared elsewhere."""
    with tempfile.TemporaryDirectory(prefix="older-") as folder:
        path = Path(folder) / "older.xlsx"
        with zipfile.ZipFile(path, "w") as archive:
            for part, data in package.parts.items():
                archive.writestr(part, data)
        computed = recalculated_text([path], engine)[0]
    for title, cells in planned.items():
        for address, due in cells.items():
            if due.kind != "formula" or title not in book.sheets:
                continue
            cell = book.sheets[title].cells.get(address)
            held, wanted = None if cell is None else cell.value, computed.get((title, address))
            if not (same(wanted, held, axis=True) or says_the_same(wanted, held)):
                yield finding("result", title, address, due.key, wanted, held)
