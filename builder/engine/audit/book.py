"""A filled file as it is, sheet by sheet: the guard has looked at it, its parts are read straight from their XML."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import NamedTuple
from xml.etree.ElementTree import Element

from builder.engine.audit.drawings import Picture, read_pictures
from builder.engine.audit.sheet import SheetView
from builder.engine.audit.sheets import open_sheets, part_tree, values_by_place
from builder.engine.audit.stored import BrokenSheet, own_name
from builder.engine.audit.styles import Styles, read_styles
from builder.engine.exchange.cellvalues import Cells
from builder.engine.exchange.untrusted import BOOK, STYLES, THEME, Package, Refused, open_untrusted


class DefinedName(NamedTuple):
    """A defined name: what it is called, on which sheet ("" in all), what it stands for."""

    name: str
    sheet: str
    content: str


@dataclass(frozen=True)
class BookView:
    """A workbook: its sheets in the order of the tabs, styles, names, and how it calculates."""

    name: str
    sheets: Mapping[str, SheetView]
    styles: Styles
    names: tuple[DefinedName, ...]
    settings: Mapping[str, Mapping[str, str]]
    pictures: tuple[Picture, ...]
    windows: tuple[Element, ...] = ()

    @cached_property
    def values(self) -> Cells:
        """The stored values by sheet title and address, as `read` has them."""
        return values_by_place(self.sheets)


def open_book(path: Path) -> BookView:
    """The view of a stranger's file. Raises Refused."""
    return view_of(open_untrusted(path))


def view_of(package: Package) -> BookView:
    """The view of a file that has passed the guard. Raises Refused."""
    try:
        sheets = open_sheets(package)
        root = part_tree(package, BOOK)
        styles = read_styles(*(part_tree(package, part) if part in package.parts else None for part in (STYLES, THEME)))
        pictures = read_pictures(package, sheets, dict(package.sheets))
        titles = list(sheets)
        names = []
        settings = book_settings(root)
        windows = tuple(view for child in root if own_name(child) == "bookViews" for view in child)
        for child in root:
            if own_name(child) == "definedNames":
                for item in child:
                    at = item.get("localSheetId", "")
                    here = titles[int(at)] if at.isdigit() and int(at) < len(titles) else ""
                    names.append(DefinedName(item.get("name", ""), here, item.text or ""))
    except BrokenSheet as error:
        raise Refused("odd_content", package.name, error) from None
    return BookView(package.name, sheets, styles, tuple(names), settings, pictures, windows)


def book_settings(root: Element) -> dict[str, Mapping[str, str]]:
    """The attributes of each element of the book, such as how it calculates. Raises BrokenSheet."""
    settings: dict[str, Mapping[str, str]] = {}
    for child in root:
        name = own_name(child)
        if name and settings.setdefault(name, child.attrib) is not child.attrib:
            raise BrokenSheet(f"{name} is there twice")
    return settings
