"""The worksheets of a file that has passed the guard, read straight from their XML, for all that take values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from xml.etree.ElementTree import Element, ParseError, fromstring

from builder.engine.addresses import address, apart
from builder.engine.audit.sheet import SheetView, boxes, read_sheet
from builder.engine.audit.stored import BrokenSheet, local, plain_texts, tree_texts
from builder.engine.exchange.cellvalues import Cells
from builder.engine.exchange.untrusted import BOOK, TEXTS, Package, Refused

LARGEST_AREA = 10_000  # cells that one series of a picture draws; the longest of our own has some 500


def stored_values(package: Package) -> Cells:
    """The stored values by sheet title and address. Raises Refused, for a cell that is there twice too."""
    try:
        sheets = open_sheets(package)
    except BrokenSheet as error:
        raise Refused("odd_content", package.name, error) from None
    for sheet in sheets.values():
        for cell in sheet.twice:
            raise Refused("odd_content", package.name, f"{sheet.title} {cell} is there twice")
    return values_by_place(sheets)


def values_by_place(sheets: Mapping[str, SheetView]) -> Cells:
    """What cells store, by sheet title and address."""
    return {(title, address): cell.value for title, sheet in sheets.items() for address, cell in sheet.cells.items()}


def area_of(cells: str) -> list[tuple[str, str]]:
    """The cells of an area such as 'Yearly table'!$A$1:$A$9, by sheet title and address; none of what is no area."""
    title, area = apart(cells)
    try:
        found = list(boxes(area.replace("$", "")))
    except BrokenSheet:
        return []
    return [
        (title, address(column, line))
        for left, top, right, bottom in found
        if (right - left + 1) * (bottom - top + 1) <= LARGEST_AREA
        for line in range(top, bottom + 1)
        for column in range(left, right + 1)
    ]


def open_sheets(package: Package) -> dict[str, SheetView]:
    """The worksheets of a file by title, without styles and names. Raises Refused, BrokenSheet."""
    texts = shared_texts(package)
    states = {
        element.get("name", ""): element.get("state", "visible")
        for element in part_tree(package, BOOK).iter()
        if local(element.tag) == "sheet"
    }
    return {
        title: open_sheet(package, title, part, texts, states.get(title, "visible")) for title, part in package.sheets
    }


def shared_texts(package: Package) -> Sequence[str]:
    """The texts that cells share. Raises Refused, BrokenSheet."""
    if TEXTS not in package.parts:
        return []
    found = plain_texts(package.parts[TEXTS])
    return tree_texts(part_tree(package, TEXTS)) if found is None else found


def open_sheet(package: Package, title: str, part: str, texts: Sequence[str], state: str = "visible") -> SheetView:
    """One worksheet of a file. Raises Refused, BrokenSheet."""
    return read_sheet(title, state, part_tree(package, part), texts)


def part_tree(package: Package, part: str) -> Element:
    """The XML of a part. The guard has seen that no part of this name declares a document type. Raises Refused."""
    if not part.endswith(".xml"):
        raise Refused("odd_part", package.name, ascii(part))
    try:
        return fromstring(package.parts[part])
    except (ParseError, ValueError, LookupError):
        raise Refused("bad_xml", package.name, part) from None
