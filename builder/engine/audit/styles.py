"""The look of a cell: lock, number format, type, colours, place of the text, lines around it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeVar
from xml.etree.ElementTree import Element

from openpyxl.styles.numbers import BUILTIN_FORMATS

from builder.engine.audit.colours import (
    BLACK,
    UNREADABLE,
    WHITE,
    Colour,
    Palette,
    colour_of,
    contrast,
    palette_of,
    shade,
)
from builder.engine.audit.formats import GENERAL, Tokens, hides_number, tokens
from builder.engine.audit.sheet import is_on, number
from builder.engine.audit.stored import BrokenSheet, local, own_name

T = TypeVar("T")
SMALLEST_TYPE = 4.0  # points
SYMBOLS = "2"  # the character set of fonts whose letters are signs
SWITCHES = ("b", "i", "strike", "outline", "shadow", "condense", "extend")
SIDES = {"start": "left", "end": "right"}  # one program's word for a side, and the other's
PLACED = {"horizontal": "general", "vertical": "bottom"}  # where a text stands unless it is told
COUNTED = ("textRotation", "indent", "readingOrder", "relativeIndent")
ORDINARY = ("wrapText", "shrinkToFit", "justifyLastLine")
Traits = tuple[tuple[str, str], ...]


class Font(NamedTuple):
    """Type: what can be told of it in words, its colour, its size in points."""

    traits: Traits = ()
    ink: Colour = BLACK
    size: float = 10.0


class Ground(NamedTuple):
    """What a cell is filled with: in words, and its colour where it is one."""

    traits: Traits = ()
    colour: Colour = WHITE


TYPE, USUAL = Font(), Palette()


@dataclass(frozen=True)
class Look:
    """The style of a cell; `traits` has its type, ground, lines and place of the text."""

    locked: bool = True
    formula_hidden: bool = False
    number_format: str = "General"
    shown: Tokens = GENERAL
    hides: bool = False
    unreadable: bool = False
    font: Font = TYPE
    traits: Traits = ()


@dataclass(frozen=True)
class Styles:
    """The styles of a workbook: looks by number; each conditional format, and whether it hides."""

    looks: tuple[Look, ...] = (Look(),)
    hiding: tuple[bool, ...] = ()
    conditional: tuple[Traits, ...] = ()
    palette: Palette = USUAL

    def look(self, style: int) -> Look:
        """The look of a style; a number that is not there is the default, as programs have it."""
        return self.looks[style] if style < len(self.looks) else Look()


def read_styles(root: Element | None, theme: Element | None) -> Styles:
    """The styles of xl/styles.xml. Raises BrokenSheet for a number that is none."""
    if root is None:
        return Styles()
    groups: dict[str, list[Element]] = {}
    for child in root:
        if groups.setdefault(own_name(child), inside := list(child)) is not inside and own_name(child):
            raise BrokenSheet(f"{own_name(child)} is there twice")
    palette = palette_of(theme, groups.get("colors", []))
    formats = {
        int(number(item.attrib, "numFmtId", 0)): item.get("formatCode", "General") for item in groups.get("numFmts", [])
    }
    fonts = [read_font(font, palette) for font in groups.get("fonts", [])]
    grounds = [_ground(fill, palette) for fill in groups.get("fills", [])]
    lines = [_lines(border) for border in groups.get("borders", [])]
    parents = [_protection(xf) for xf in groups.get("cellStyleXfs", [])]
    looks = []
    for xf in groups.get("cellXfs", []):
        protection = _protection(xf)
        if protection is None:
            protection = _at(parents, xf, "xfId", None)
        code = int(number(xf.attrib, "numFmtId", 0))
        written = formats.get(code) or BUILTIN_FORMATS.get(code, "General")
        font, ground = _at(fonts, xf, "fontId", TYPE), _at(grounds, xf, "fillId", Ground())
        faint = font.size < SMALLEST_TYPE or contrast(font.ink, ground.colour) < UNREADABLE
        traits = font.traits + ground.traits + _at(lines, xf, "borderId", ()) + _placed(xf)
        shown, hidden = tokens(written), hides_number(written)
        looks.append(Look(*(protection or (True, False)), written, shown, hidden, faint, font, traits))
    rules = groups.get("dxfs", [])
    hiding = tuple(hides(rule, palette) for rule in rules)
    return Styles(
        tuple(looks) or (Look(),), hiding, tuple(conditional_traits(rule, palette) for rule in rules), palette
    )


def hides(rule: Element, palette: Palette = USUAL) -> bool:
    """Whether a conditional format makes a text unreadable: by its colour or by its number format."""
    ink, ground = BLACK, WHITE
    for child in rule:
        name = local(child.tag)
        if name == "font":
            ink = read_font(child, palette).ink
        elif name == "fill":
            ground = _ground(child, palette, conditional=True).colour
        elif name == "numFmt" and hides_number(child.get("formatCode", "")):
            return True
    return contrast(ink, ground) < UNREADABLE


def conditional_traits(rule: Element, palette: Palette = USUAL) -> Traits:
    """What a conditional format changes, but for the lines around a cell."""
    found: Traits = ()
    for child in rule:
        name = local(child.tag)
        if name == "font":
            found += tuple(trait for trait in read_font(child, palette).traits if trait[0] not in ("name", "sz"))
        elif name == "fill":
            found += _ground(child, palette, conditional=True).traits
        elif name == "numFmt":
            found += (("format", repr(tokens(child.get("formatCode", "")))),)
    return found


def _at(items: Sequence[T], xf: Element, name: str, default: T) -> T:
    index = int(number(xf.attrib, name, 0))
    return items[index] if 0 <= index < len(items) else default


def _protection(xf: Element) -> tuple[bool, bool] | None:
    for child in xf:
        if local(child.tag) == "protection":
            return is_on(child.attrib, "locked", True), is_on(child.attrib, "hidden")
    return None


def read_font(font: Element, palette: Palette) -> Font:
    """The type that a style, a conditional format or a run of a text has."""
    told = {local(child.tag): child for child in font}
    ink = colour_of(told["color"], palette, BLACK) if "color" in told else BLACK
    traits = [("ink", shade(ink))] * (ink != BLACK)
    traits += [(name, "on") for name in SWITCHES if name in told and is_on(told[name].attrib, "val", True)]
    for name, usual, default in (("u", "single", "none"), ("vertAlign", "baseline", "baseline")):
        said = told[name].get("val", usual) if name in told else default
        traits += [(name, said)] * (said != default)
    face = told["name"] if "name" in told else told.get("rFont")
    traits += [("name", face.get("val", "").casefold())] if face is not None else []
    traits += [("charset", SYMBOLS)] * ("charset" in told and told["charset"].get("val") == SYMBOLS)
    size = number(told["sz"].attrib, "val", 10.0) if "sz" in told else 10.0
    traits += [("sz", f"{size:g}")] * ("sz" in told)
    return Font(tuple(traits), ink, size)


def _ground(fill: Element, palette: Palette, conditional: bool = False) -> Ground:
    """The ground of a cell; a conditional format keeps it in the other of the two colours."""
    wanted = "bgColor" if conditional else "fgColor"
    for pattern in fill:
        kind = pattern.get("patternType", "solid" if conditional else "none")
        if local(pattern.tag) != "patternFill" or kind not in ("none", "solid"):
            return Ground((("pattern", f"{local(pattern.tag)} {kind}"),))
        for child in pattern:
            if kind == "solid" and local(child.tag) == wanted:
                colour = colour_of(child, palette, WHITE)
                return Ground((("ground", shade(colour)),) * (colour != WHITE), colour)
    return Ground()


def _lines(border: Element) -> Traits:
    """The lines around a cell and through it, by side."""
    found = {}
    for child in border:
        side, style = SIDES.get(local(child.tag), local(child.tag)), child.get("style", "none")
        if style != "none" and (side != "diagonal" or is_on(border.attrib, "diagonalUp") or _down(border)):
            found[f"line {side}"] = style
    return tuple(sorted(found.items()))


def _down(border: Element) -> bool:
    return is_on(border.attrib, "diagonalDown")


def _placed(xf: Element) -> Traits:
    """Where and how a text stands in its cell."""
    told = next((child.attrib for child in xf if local(child.tag) == "alignment"), {})
    found = [(name, told[name]) for name, usual in PLACED.items() if told.get(name, usual) != usual]
    found += [(name, told[name]) for name in COUNTED if told.get(name, "0") != "0"]
    return tuple(found) + tuple((name, "on") for name in ORDINARY if is_on(told, name))
