"""Takes hostile workbooks through a program, a handful at a time."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from builder.engine.exchange.cellvalues import Cells
from builder.engine.exchange.fill import fill
from builder.engine.exchange.formulas_model import FormulasModel
from builder.engine.model import Model
from tests.campaign.hostile import Hostile
from tests.campaign.judging import Counts
from tests.support.judged import areas_told, as_numbers
from tests.support.many_states import LockedOver, TypedFormula, in_gnumeric, in_libreoffice
from tests.support.spoilt import BASES
from tests.support.workbooks import at, expected, typed_case

CHUNK = 40  # workbooks whose cells are held at once


def count(model: Model, engine: str, books: Sequence[Hostile]) -> Counts:
    """What one program makes of these workbooks."""
    counts = Counts()
    before = {
        base: {at(model, place): value for place, value in cells.items()}
        for base, cells in zip(BASES, expected(model, [typed_case(base) for base in BASES]), strict=True)
    }
    with tempfile.TemporaryDirectory(prefix="campaign-") as folder:
        for chunk, cells in (_in_formulas if engine == "formulas" else _in_program)(model, engine, books, Path(folder)):
            wanted = expected(model, [book.typed for book in chunk])
            for book, shown, values in zip(chunk, cells, wanted, strict=True):
                seen = as_numbers(model, values, shown) if engine == "gnumeric" else shown
                counts.judge(model, book, seen, before[book.base], values)
            print(f"{engine}: {counts.total} of {len(books)}, {counts.fault_count} faults", file=sys.stderr, flush=True)
    return counts


def sample(books: Sequence[Hostile], engine: str, number: int) -> list[Hostile]:
    """Evenly spread ones that an engine can be given. The library takes values alone, of which the text "#N/A" is an
    error; a formula typed in LibreOffice that yields TRUE is the number 1 in a cell with a number format."""

    def fits(book: Hostile) -> bool:
        values = book.written.values()
        typed = [value for value in values if isinstance(value, TypedFormula)]
        if engine == "formulas":
            return not typed and "#N/A" not in [value for value in values if isinstance(value, LockedOver)]
        return "1=1" not in typed

    fitting = [book for book in books if fits(book)]
    number = min(number, len(fitting))
    return [fitting[round(step * (len(fitting) - 1) / max(number - 1, 1))] for step in range(number)]


def _in_program(
    model: Model, engine: str, books: Sequence[Hostile], folder: Path
) -> Iterator[tuple[Sequence[Hostile], Sequence[Cells]]]:
    run = in_libreoffice if engine == "libreoffice" else in_gnumeric
    for base in BASES:
        of_base = [book for book in books if book.base == base]
        if of_base:
            fill(model, typed_case(base), folder / f"{base}.xlsx")
        for first in range(0, len(of_base), CHUNK):
            chunk = of_base[first : first + CHUNK]
            states = [{at(model, place): value for place, value in book.written.items()} for book in chunk]
            yield chunk, run(folder / f"{base}.xlsx", states, areas_told(model))


def _in_formulas(
    model: Model, _: str, books: Sequence[Hostile], folder: Path
) -> Iterator[tuple[Sequence[Hostile], Sequence[Cells]]]:
    fill(model, {}, folder / "blank.xlsx")
    loaded = FormulasModel(folder / "blank.xlsx")
    for book in books:
        yield [book], [loaded.calculate({at(model, place): value for place, value in book.typed.items()})]
