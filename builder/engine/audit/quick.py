"""The quick way to a file's typed values, and the answer that its formulas and fixed values are those of the edition.

A sheet of an edition is nearly the same in every file. One that was read from its tree and found good is known by its
structure: all its bytes but the kind and the stored value of each cell. A sheet with the same bytes around such values
is as good, and its values stand in the same cells. Every other sheet is read from its tree.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from builder.engine.audit.computing import compare_computing
from builder.engine.audit.expected import Planned, Which, planned_cells, which_of
from builder.engine.audit.finding import Finding
from builder.engine.audit.formulas import same_value
from builder.engine.audit.sheets import open_sheet, shared_texts
from builder.engine.audit.stored import BrokenSheet, sound
from builder.engine.audit.written import SPACE, Contents, Written, digest
from builder.engine.audit.written import written as written_sheet
from builder.engine.exchange.cellvalues import MAIN, Cells
from builder.engine.exchange.untrusted import Package, Refused, open_untrusted

_VALUE = re.compile(rb"<v>[^<>]*</v>")
_LINES = re.compile(
    rb"_(?:</row>)?_(?:<row [^<>]*/>_|<row [^<>]*[^<>/]>_</row>_)*+(?:<row [^<>]*[^<>/]>)?_".replace(b"_", SPACE)
)
_ROOT = b'<worksheet xmlns="' + MAIN[0].encode() + b'"'
_TABLE, _END = b"<sheetData>", b"</sheetData>"
MOST_KNOWN = 1000  # structures of one sheet that are kept; a program has one or two of its own
MOST_WHOLE = 4  # ways in which a program writes all constants of a sheet
FEW_FORMULAS = 9  # of a list of texts; where there are more, what kind of result they have differs from file to file


class Known(NamedTuple):
    """Where a sheet of a known structure has its constants and typed cells: the number of the value, and the address.

    `whole` has all constants as they were found to be written and are to be, `seen` single ones.
    """

    constants: Sequence[tuple[int, str, Planned]]
    typed: Sequence[tuple[int, str]]
    numbers: Sequence[int]
    whole: list[Contents]
    seen: set[tuple[int, bytes, bytes]]


@cache
def _known(title: str, which: Which) -> dict[bytes, Known]:
    """The structures of a sheet of this edition that were found good."""
    return {}


def changed_formulas(path: Path) -> list[Finding]:
    """The formulas and constants of a file that are not those of this edition, quickly; empty when none was changed.

    Also a formula where none belongs, an input's cell among them. Raises Refused. Whoever takes numbers from a file
    asks this first; `verify` looks at everything else too.
    """
    return changed_in(open_untrusted(path))


def changed_in(package: Package) -> list[Finding]:
    """As changed_formulas, of a file that has passed the guard."""
    try:
        return changes_of(package, which_of({title for title, _ in package.sheets}))
    except BrokenSheet as error:
        raise Refused("odd_content", package.name, error) from None


def changes_of(package: Package, which: Which) -> list[Finding]:
    """As changed_in, of a workbook of this edition; only the sheets that were changed are read whole.

    Raises Refused, BrokenSheet.
    """
    planned, texts = planned_cells(which), shared_texts(package)
    lost = {title: cells for title, cells in planned.items() if title not in dict(package.sheets)}
    found = list(compare_computing(lost, {}))
    for title, part in package.sheets:
        cells = planned.get(title, {})
        if _typed_on(package, (title, part), which, cells, texts) is None:
            found += compare_computing({title: cells}, {title: open_sheet(package, title, part, texts)})
    return found


def values_of_unchanged(package: Package, which: Which) -> Cells | None:
    """What the typed cells of a workbook hold, by title and address; None when a formula or constant differs.

    Raises Refused, BrokenSheet.
    """
    planned = planned_cells(which)
    if not planned.keys() <= {title for title, _ in package.sheets}:
        return None
    texts = shared_texts(package)
    values: Cells = {}
    for title, part in package.sheets:
        found = _typed_on(package, (title, part), which, planned.get(title, {}), texts)
        if found is None:
            return None
        values |= {(title, address): value for address, value in found.items()}
    return values


def _typed_on(
    package: Package, sheet: tuple[str, str], which: Which, planned: Mapping[str, Planned], texts: Sequence[str]
) -> dict[str, Any] | None:
    """What the typed cells of one sheet hold; None when a formula or constant differs."""
    title, part = sheet
    if len(planned) <= FEW_FORMULAS and all(cell.kind == "formula" for cell in planned.values()):
        return {} if _is_bare(package, sheet, which, planned, texts) else None
    known, written = _known(title, which), written_sheet(package.parts[part])
    sure = sound(b" ".join(filter(None, (*written.held, *written.inline))))
    places = known.get(written.structure) if sure else None
    if places is not None:
        if not _same_constants(written, places, texts):
            return None
        return {address: written.value(number, address, texts) for number, address in places.typed}
    view = open_sheet(package, title, part, texts)
    if any(compare_computing({title: planned}, {title: view})):
        return None
    if sure and len(known) < MOST_KNOWN and _is_plain(written):
        known[written.structure] = _places(written, planned)
    return {at: view.cells[at].value for at, cell in planned.items() if cell.kind == "typed" and at in view.cells}


def _is_bare(
    package: Package, sheet: tuple[str, str], which: Which, planned: Mapping[str, Planned], texts: Sequence[str]
) -> bool:
    """Whether a sheet from which nothing is taken, such as the list of formulas, has the planned formulas alone."""
    title, part = sheet
    data, known = package.parts[part], _known(title, which)
    structure = digest(0, [_VALUE.sub(b"<v></v>", data)])
    if structure in known and sound(data):
        return True
    if any(compare_computing({title: planned}, {title: open_sheet(package, title, part, texts)})):
        return False
    if len(known) < MOST_KNOWN:
        known[structure] = Known((), (), (), [], set())
    return True


def _same_constants(written: Written, places: Known, texts: Sequence[str]) -> bool:
    contents = written.contents(places.numbers, texts)
    if contents is not None and contents in places.whole:
        return True
    if not all(_same(written, places, constant, texts) for constant in places.constants):
        return False
    if contents is not None and len(places.whole) < MOST_WHOLE:
        places.whole.append(contents)
    return True


def _same(written: Written, places: Known, constant: tuple[int, str, Planned], texts: Sequence[str]) -> bool:
    number, address, planned = constant
    content = written.content(number, texts)
    if content in places.seen:
        return True
    if not same_value(planned.content, written.value(number, address, texts)):
        return False
    if content is not None:
        places.seen.add(content)
    return True


def _is_plain(written: Written) -> bool:
    """Whether every cell of a sheet that is well-formed stands in lines of its one table and is written plainly."""
    head, start, first = written.gaps[0].partition(_TABLE)
    last, end, tail = written.gaps[-1].partition(_END)
    declaration, _, body = head.rpartition(b"?>")
    outside = declaration.count(b"<?") > 1 or any(mark in body + tail for mark in (b"<!", b"<?", _TABLE))
    if not start or not end or outside or not body.strip().startswith(_ROOT):
        return False
    between = {first, last, *written.gaps[1:-1]}
    return all(_LINES.fullmatch(gap) and b"xmlns" not in gap for gap in between)


def _places(written: Written, planned: Mapping[str, Planned]) -> Known:
    at = {head.split(b'"')[1].decode(): number for number, head in enumerate(written.heads)}
    constants = [(at[address], address, cell) for address, cell in planned.items() if cell.kind == "constant"]
    typed = [(at[address], address) for address, cell in planned.items() if cell.kind == "typed" and address in at]
    return Known(constants, typed, [number for number, _, _ in constants], [], set())
