"""The colours of a workbook's styles, and whether type of one can be read on a ground of another."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple
from xml.etree.ElementTree import Element

from openpyxl.styles.colors import COLOR_INDEX

from builder.engine.audit.sheet import number
from builder.engine.audit.stored import local

Colour = tuple[float, float, float]
WHITE, BLACK = (1.0, 1.0, 1.0), (0.0, 0.0, 0.0)
GREYS = (WHITE, BLACK, *[(0.5, 0.5, 0.5)] * 10)  # where a file has no theme
THEME_ORDER = (1, 0, 3, 2, 4, 5, 6, 7, 8, 9, 10, 11)  # a colour's number -> its place in the theme's list
UNREADABLE = 1.6  # contrast ratio below which type cannot be told from its ground (readable type has 4.5: WCAG 1.4.3)


class Palette(NamedTuple):
    """The colours that a file's styles cite by number: those of its theme, and those of its own list."""

    theme: Sequence[Colour] = GREYS
    listed: Sequence[str] = COLOR_INDEX


def palette_of(theme: Element | None, colours: Sequence[Element]) -> Palette:
    """The palette of a file; `colours` is what its styles say of them."""
    own = [item.get("rgb", "") for part in colours if local(part.tag) == "indexedColors" for item in part]
    return Palette(_theme(theme), (*own, *COLOR_INDEX[len(own) :]))


def _theme(root: Element | None) -> Sequence[Colour]:
    if root is None:
        return GREYS
    for scheme in root.iter():
        if local(scheme.tag) == "clrScheme":
            found = [_hex(next((c.get("lastClr", c.get("val", "")) for c in item), "")) for item in scheme]
            return [found[at] if at < len(found) else BLACK for at in THEME_ORDER]
    return GREYS


def colour_of(element: Element, palette: Palette, default: Colour) -> Colour:
    """The colour that an element of the styles tells. Raises BrokenSheet."""
    colour = default
    if element.get("rgb"):
        colour = _hex(element.get("rgb", ""))
    elif element.get("theme", "").isdigit():
        colour = palette.theme[min(int(element.get("theme", "")), len(palette.theme) - 1)]
    elif element.get("indexed", "").isdigit():
        index = int(element.get("indexed", ""))
        colour = _hex(palette.listed[index]) if index < len(palette.listed) else default
    tint = number(element.attrib, "tint", 0)
    if not tint:
        return colour
    red, green, blue = (min(1.0, max(0.0, c * (1 + tint) if tint < 0 else c + (1 - c) * tint)) for c in colour)
    return red, green, blue


def _hex(text: str) -> Colour:
    digits = text[-6:]
    if not re.fullmatch(r"[0-9A-Fa-f]{6}", digits):
        return BLACK
    red, green, blue = (int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4))
    return red, green, blue


def shade(colour: Colour) -> str:
    """A colour as six digits; what two programs round differently in the last bit is the same."""
    return "".join(f"{round(part * 255):02x}" for part in colour)


def contrast(one: Colour, other: Colour) -> float:
    """The contrast ratio of two colours, 1 to 21 (W3C, Web Content Accessibility Guidelines 2.1)."""
    bright, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def _luminance(colour: Colour) -> float:
    red, green, blue = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def of_hex(digits: str) -> Colour:
    """A colour by its six digits; black where there are none."""
    return _hex(digits)
