"""The cells of a stranger's workbook, formulas and values, read fast: some 30 ms for 30,000 cells.

Programs write cells in a few shapes only, and one pattern takes them all; a sheet in which it does not account for
every cell is first written anew from its XML tree, in that shape.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from xml.etree.ElementTree import Element
from xml.sax.saxutils import escape, unescape

from openpyxl.formula.translate import Translator

from builder.exchange.cellvalues import Value, value_of
from builder.exchange.untrusted import Package, Refused, parse_part
from builder.reference.plan.judge import ErrorValue

TEXTS = "xl/sharedStrings.xml"
_CELL = re.compile(
    rb'<c r="([A-Z]{1,3}[0-9]{1,7})"(?: s="[0-9]+")?(?: t="([a-zA-Z]+)")?\s*(?:/>|>\s*'
    rb"(?:<f([^>]*?)(?:/>|>([^<]*)</f>)\s*)?(?:<v(?:/>|[^>/]*>([^<]*)</v>)\s*)?(?:<is>(.*?)</is>\s*)?</c>)",
    re.S,
)
_ANY_CELL = re.compile(rb"<c[\s/>]")
_ODD = re.compile(rb"<!|<\w+:(?:worksheet|sheetData|row|c|f|v|is)[\s/>]")
_TEXT_ITEM = re.compile(rb"<si\s*/>|<si>(.*?)</si>", re.S)
_TEXT = re.compile(rb"<t(?:\s[^>]*)?>([^<]*)</t>")
_SPOKEN = re.compile(rb"<rPh.*?</rPh>", re.S)
_SHARED_NUMBER = re.compile(rb'si="([0-9]+)"')
_OVER_SEVERAL = re.compile(rb't="(?:array|dataTable)"')
_ENTITIES = {"&quot;": '"', "&apos;": "'", "&#10;": "\n", "&#13;": "\r", "&#9;": "\t", "&#xA;": "\n", "&#xa;": "\n"}


# What the file says of a cell: address, kind, attributes and text of its formula, stored content, its own text.
RawCell = tuple[bytes, bytes, bytes, bytes, bytes, bytes]
Sheet = Mapping[str, RawCell]
NOTHING: RawCell = (b"", b"", b"", b"", b"", b"")


class SheetCells:
    """All cells of a package by sheet title and address. Raises Refused when a sheet is no well-formed XML."""

    def __init__(self, package: Package) -> None:
        self.name = package.name
        self.sheets: dict[str, Sheet] = {}
        self._texts = _TEXT_ITEM.findall(package.parts.get(TEXTS, b""))
        self._masters: dict[tuple[str, bytes], tuple[str, str]] | None = None
        for title, part in package.sheets:
            self.sheets[title] = _cells(package.name, part, package.parts[part])

    def formula_cells(self, title: str) -> list[str]:
        """The addresses of the cells of a sheet that are computed."""
        return [at for at, (_, _, of_formula, formula, *_) in self.sheets[title].items() if formula or of_formula]

    def formula(self, title: str, address: str) -> str | None:
        """The formula of a cell without its equals sign; None for a cell that holds none.

        A formula shared with another cell is written out; one over several cells comes in braces.
        """
        _, _, of_formula, formula, *_ = self.sheets.get(title, {}).get(address, NOTHING)
        if of_formula and _OVER_SEVERAL.search(of_formula):
            return "{" + _written(formula) + "}"
        if formula:
            return _written(formula)
        return self._shared(title, address, of_formula) if of_formula else None

    def _shared(self, title: str, address: str, of_formula: bytes) -> str:
        if self._masters is None:
            self._masters = dict(self._find_masters())
        number = _SHARED_NUMBER.search(of_formula)
        if number is None or (title, number[1]) not in self._masters:
            raise Refused("bad_cell", self.name, f"{title}!{address}")
        formula, origin = self._masters[title, number[1]]
        return str(Translator("=" + formula, origin).translate_formula(address))[1:]

    def _find_masters(self) -> Iterator[tuple[tuple[str, bytes], tuple[str, str]]]:
        for title, cells in self.sheets.items():
            for address, (_, _, of_formula, formula, *_) in cells.items():
                number = _SHARED_NUMBER.search(of_formula) if formula else None
                if number:
                    yield (title, number[1]), (_written(formula), address)

    def value(self, title: str, address: str) -> Value:
        """The value stored in a cell, as read_values has it; an error value as ErrorValue. Raises Refused."""
        _, kind, _, _, content, own_text = self.sheets.get(title, {}).get(address, NOTHING)
        try:
            if kind == b"s":
                return _joined(self._texts[int(content)]) or None
            if kind == b"inlineStr":
                return _joined(own_text) or None
            text = _plain_text(content.decode("utf-8"))
            return ErrorValue(text) if kind == b"e" else value_of(kind.decode() or "n", text, ())
        except (ValueError, IndexError):
            raise Refused("bad_cell", self.name, f"{title}!{address}") from None


def _cells(name: str, part: str, data: bytes) -> Sheet:
    if _ODD.search(data) or len(found := _CELL.findall(data)) != len(_ANY_CELL.findall(data)):
        data = _rewritten(parse_part(name, part, data))
        found = _CELL.findall(data)
    cells = {cell[0].decode(): cell for cell in found}
    if len(cells) != len(_ANY_CELL.findall(data)):
        raise Refused("bad_xml", name, part)
    return cells


def _rewritten(tree: Element) -> bytes:
    """The cells of a sheet in the one shape that the pattern takes."""
    lines = []
    for cell in tree.iterfind("{*}sheetData/{*}row/{*}c"):
        inner = "".join(
            f"<{tag}{_attributes(child)}>{escape(child.text or '')}</{tag}>"
            for child in cell
            if (tag := child.tag.rpartition("}")[2]) in ("f", "v")
        )
        texts = "".join(escape(t.text or "") for t in cell.iterfind("{*}is//{*}t"))
        kind = f' t="{cell.get("t")}"' if cell.get("t") else ""
        lines.append(f'<c r="{cell.get("r", "")}"{kind}>{inner}{f"<is><t>{texts}</t></is>" if texts else ""}</c>')
    return "".join(lines).encode()


def _attributes(element: Element) -> str:
    return "".join(f' {key}="{value}"' for key, value in element.attrib.items() if "}" not in key)


@lru_cache(maxsize=1 << 16)  # the files of a run repeat the same formulas
def _written(formula: bytes) -> str:
    return _plain_text(formula.decode("utf-8"))


def _plain_text(text: str) -> str:
    return unescape(text, _ENTITIES) if "&" in text else text


def _joined(item: bytes) -> str:
    """The text of a string item: its runs, without what is only spoken."""
    return "".join(_plain_text(part.decode("utf-8")) for part in _TEXT.findall(_SPOKEN.sub(b"", item)))
