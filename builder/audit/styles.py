"""The look of a cell as far as it can hide or unlock something: lock, number format, colours, size of type."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar
from xml.etree.ElementTree import Element

from openpyxl.styles.colors import COLOR_INDEX
from openpyxl.styles.numbers import BUILTIN_FORMATS

from builder.audit.sheet import is_on, number
from builder.audit.stored import BrokenSheet, local, own_name

T = TypeVar("T")
Colour = tuple[float, float, float]
WHITE, BLACK = (1.0, 1.0, 1.0), (0.0, 0.0, 0.0)
THEME = (WHITE, BLACK, *[(0.5, 0.5, 0.5)] * 10)  # where a file has no theme
THEME_ORDER = (1, 0, 3, 2, 4, 5, 6, 7, 8, 9, 10, 11)  # a colour's number -> its place in the theme's list
UNREADABLE = 1.6  # contrast ratio below which type cannot be told from its ground (readable type has 4.5: WCAG 1.4.3)
SMALLEST_TYPE = 4.0  # points
_LITERALS = re.compile(r'\\(.)|"([^"]*)"|\[[^\]]*\]|_.|\*.')  # in a number format: letters shown as they are, marks


@dataclass(frozen=True)
class Look:
    """What matters of a cell's style."""

    locked: bool = True
    formula_hidden: bool = False
    number_format: str = "General"
    hides: bool = False
    unreadable: bool = False


@dataclass(frozen=True)
class Styles:
    """The styles of a workbook: looks by number, and for each conditional format whether it hides."""

    looks: tuple[Look, ...] = (Look(),)
    hiding: tuple[bool, ...] = ()

    def look(self, style: int) -> Look:
        """The look of a style; a number that is not there is the default, as programs have it."""
        return self.looks[style] if style < len(self.looks) else Look()


def read_styles(root: Element | None, theme: Element | None) -> Styles:
    """The styles of xl/styles.xml. Raises BrokenSheet for a number that is none."""
    if root is None:
        return Styles()
    colours = _theme(theme)
    groups: dict[str, list[Element]] = {}
    for child in root:
        if groups.setdefault(own_name(child), inside := list(child)) is not inside and own_name(child):
            raise BrokenSheet(f"{own_name(child)} is there twice")
    formats = {
        int(number(item.attrib, "numFmtId", 0)): item.get("formatCode", "General") for item in groups.get("numFmts", [])
    }
    fonts = [_font(font, colours) for font in groups.get("fonts", [])]
    fills = [_fill(fill, colours) for fill in groups.get("fills", [])]
    parents = [_protection(xf) for xf in groups.get("cellStyleXfs", [])]
    looks = []
    for xf in groups.get("cellXfs", []):
        protection = _protection(xf)
        if protection is None:
            parent = int(number(xf.attrib, "xfId", 0))
            protection = parents[parent] if 0 <= parent < len(parents) else None
        locked, hidden = protection or (True, False)
        code = int(number(xf.attrib, "numFmtId", 0))
        written = formats.get(code) or BUILTIN_FORMATS.get(code, "General")
        colour, size = _at(fonts, xf, "fontId", (BLACK, 10.0))
        looks.append(
            Look(
                locked,
                hidden,
                plain_format(written),
                hides_number(written),
                size < SMALLEST_TYPE or contrast(colour, _at(fills, xf, "fillId", WHITE)) < UNREADABLE,
            )
        )
    hiding = tuple(hides(rule, colours) for rule in groups.get("dxfs", []))
    return Styles(tuple(looks) or (Look(),), hiding)


def hides(rule: Element, colours: Sequence[Colour] = THEME) -> bool:
    """Whether a conditional format makes a text unreadable: by its colour or by its number format."""
    ink, ground = BLACK, WHITE
    for child in rule:
        name = local(child.tag)
        if name == "font":
            ink = _font(child, colours)[0]
        elif name == "fill":
            ground = _fill(child, colours, conditional=True)
        elif name == "numFmt" and hides_number(child.get("formatCode", "")):
            return True
    return contrast(ink, ground) < UNREADABLE


def _at(items: Sequence[T], xf: Element, name: str, default: T) -> T:
    index = int(number(xf.attrib, name, 0))
    return items[index] if 0 <= index < len(items) else default


def _protection(xf: Element) -> tuple[bool, bool] | None:
    for child in xf:
        if local(child.tag) == "protection":
            return is_on(child.attrib, "locked", True), is_on(child.attrib, "hidden")
    return None


def _theme(root: Element | None) -> Sequence[Colour]:
    if root is None:
        return THEME
    for scheme in root.iter():
        if local(scheme.tag) == "clrScheme":
            found = [_hex(next((c.get("lastClr", c.get("val", "")) for c in item), "")) for item in scheme]
            return [found[at] if at < len(found) else BLACK for at in THEME_ORDER]
    return THEME


def _font(font: Element, colours: Sequence[Colour]) -> tuple[Colour, float]:
    colour, size = BLACK, 10.0
    for child in font:
        name = local(child.tag)
        if name == "color":
            colour = _colour(child, colours, BLACK)
        elif name == "sz":
            size = number(child.attrib, "val", 10.0)
    return colour, size


def _fill(fill: Element, colours: Sequence[Colour], conditional: bool = False) -> Colour:
    """The ground of a cell; a conditional format keeps it in the other of the two colours."""
    wanted = "bgColor" if conditional else "fgColor"
    for pattern in fill:
        if pattern.get("patternType", "solid" if conditional else "none") == "solid":
            for child in pattern:
                if local(child.tag) == wanted:
                    return _colour(child, colours, WHITE)
    return WHITE


def _colour(element: Element, colours: Sequence[Colour], default: Colour) -> Colour:
    colour = default
    if element.get("rgb"):
        colour = _hex(element.get("rgb", ""))
    elif element.get("theme", "").isdigit():
        colour = colours[min(int(element.get("theme", "")), len(colours) - 1)]
    elif element.get("indexed", "").isdigit():
        index = int(element.get("indexed", ""))
        colour = _hex(COLOR_INDEX[index]) if index < len(COLOR_INDEX) else default
    tint = number(element.attrib, "tint", 0)
    return (
        tuple(min(1.0, max(0.0, c * (1 + tint) if tint < 0 else c + (1 - c) * tint)) for c in colour)  # type: ignore[return-value]
        if tint
        else colour
    )


def _hex(text: str) -> Colour:
    digits = text[-6:]
    if not re.fullmatch(r"[0-9A-Fa-f]{6}", digits):
        return BLACK
    return tuple(int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4))  # type: ignore[return-value]


def contrast(one: Colour, other: Colour) -> float:
    """The contrast ratio of two colours, 1 to 21 (W3C, Web Content Accessibility Guidelines 2.1)."""
    bright, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def _luminance(colour: Colour) -> float:
    red, green, blue = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@lru_cache(maxsize=1024)
def plain_format(code: str) -> str:
    """A number format as all programs would write it: programs quote its plain letters in different ways."""
    plain = re.sub(_LITERALS, lambda m: m[1] or m[2] or "", code)
    return "General" if plain.lower() in ("general", "") and '"' not in code else plain.removesuffix(";@")


@lru_cache(maxsize=1024)
def hides_number(code: str) -> bool:
    """Whether a number format leaves some values unseen or shows fixed letters in their stead."""
    placeholders = re.sub(_LITERALS, "", code) if code else "General"
    return any(not re.search(r"[0#?@]|General|[ymdhs]", part, re.IGNORECASE) for part in placeholders.split(";"))
