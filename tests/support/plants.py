"""Changes planted in a copy of a filled workbook, one of each kind that an inspector asks about, by editing its XML."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from html import escape

from builder.engine.model import Model
from tests.support.hostile import Parts
from tests.support.workbooks import at

STYLES, BOOK = "xl/styles.xml", "xl/workbook.xml"
Spot = tuple[str, str]  # sheet title and address


@dataclass
class Copy:
    """The parts of a workbook under change. Every edit must hit something, so that a plant cannot miss in silence."""

    model: Model
    parts: Parts

    def __post_init__(self) -> None:
        self.sheet_names = [self.model.spec.sheet_title(sheet.key) for sheet in self.model.spec.sheets]

    def part(self, title: str) -> str:
        return f"xl/worksheets/sheet{self.sheet_names.index(title) + 1}.xml"

    def place(self, owner: str, key: str, *where: str) -> tuple[str, str]:
        """Sheet title and address of a row's cell: of an eye ("right") or of an eye and an instance."""
        found = (where * 2)[:2] if owner == "eyes" else where or ("", self.model.spec.once)
        return at(self.model, self.model.layout.cells(owner, key)[found[0], found[1]].place)

    def constant(self, key: str) -> tuple[str, str]:
        return at(self.model, self.model.constants[key])

    def swap(self, part: str, old: str, new: str, count: int = 1) -> None:
        """Replaces a stretch of a part."""
        text = self.parts[part].decode()
        assert old in text, f"{old} is not in {part}"
        self.parts[part] = text.replace(old, new, count).encode()

    def sub(self, part: str, pattern: str, new: str | Callable[[re.Match[str]], str], count: int = 1) -> None:
        """Replaces what a pattern finds in a part."""
        text, found = re.subn(pattern, new, self.parts[part].decode(), count=count, flags=re.DOTALL)
        assert found, f"{pattern} is not in {part}"
        self.parts[part] = text.encode()

    def cell(self, place: tuple[str, str], edit: Callable[[str], str]) -> None:
        """Edits the XML of one cell."""
        pattern = rf'<c r="{place[1]}"(?: [^>]*?)?(?:/>|>(?:(?!</c>).)*</c>)'
        self.sub(self.part(place[0]), pattern, lambda found: edit(found[0]))

    def formula(self, place: tuple[str, str], edit: Callable[[str], str]) -> None:
        """Edits the formula of one cell, as XML; an edit that changes nothing plants nothing."""

        def edited(cell: str) -> str:
            found = re.sub(r"(<f[^>]*>)(.*?)(</f>)", lambda m: m[1] + edit(m[2]) + m[3], cell)
            assert found != cell, f"nothing to change in {place}"
            return found

        self.cell(place, edited)

    def holds(self, place: tuple[str, str], content: float | str) -> None:
        """Makes a cell hold a fixed value."""
        kind, inner = ("", f"<v>{content}</v>")
        if isinstance(content, str):
            kind, inner = ' t="inlineStr"', f"<is><t>{escape(content)}</t></is>"
        self.cell(place, lambda cell: re.sub(r' t="\w+"', "", _head(cell)) + kind + f">{inner}</c>")

    def add(self, title: str, address: str, inner: str, attributes: str = "") -> None:
        """A cell more, on a line below all others."""
        line = re.sub(r"\D", "", address)
        cell = f'<row r="{line}"><c r="{address}"{attributes}>{inner}</c></row></sheetData>'
        self.swap(self.part(title), "</sheetData>", cell)

    def restyle(self, place: tuple[str, str], edit: Callable[[str], str]) -> None:
        """Gives a cell a style of its own: that of the cell, edited."""
        number = re.search(rf'<c r="{place[1]}" s="(\d+)"', self.parts[self.part(place[0])].decode())
        assert number
        table = re.search(r"<cellXfs[^>]*>(.*?)</cellXfs>", self.parts[STYLES].decode(), re.DOTALL)
        assert table
        styles = re.findall(r"<xf [^>]*?/>|<xf .*?</xf>", table[1], re.DOTALL)
        own = styles[int(number[1])]
        own = own if own.endswith("</xf>") else own[:-2] + "></xf>"
        edited = edit(own)
        assert edited != own
        self.swap(STYLES, "</cellXfs>", edited + "</cellXfs>")
        self.cell(place, lambda cell: re.sub(r' s="\d+"', f' s="{len(styles)}"', cell, count=1))

    def font(self, xml: str) -> Callable[[str], str]:
        """An edit of a style: another font."""
        self.swap(STYLES, "</fonts>", f"<font>{xml}</font></fonts>")
        number = len(re.findall(r"<font>|<font/>", self.parts[STYLES].decode().partition("</fonts>")[0])) - 1
        return lambda xf: re.sub(r'fontId="\d+"', f'fontId="{number}"', xf)

    def number_format(self, code: str) -> Callable[[str], str]:
        """An edit of a style: another number format."""
        self.swap(STYLES, "</numFmts>", f'<numFmt numFmtId="999" formatCode="{escape(code)}"/></numFmts>')
        return lambda xf: re.sub(r'numFmtId="\d+"', 'numFmtId="999"', xf)


def sheet_of(copy: Copy, key: str) -> str:
    """The title of a sheet."""
    return copy.model.spec.sheet_title(key)


def _head(cell: str) -> str:
    return re.match(r"<c [^>]*?(?=/?>)", cell)[0]  # type: ignore[index]


def protection(attributes: str) -> Callable[[str], str]:
    """An edit of a style: another lock."""
    return lambda xf: re.sub(r"<protection[^>]*/>", "", xf).replace("</xf>", f"<protection {attributes}/></xf>")


@dataclass(frozen=True)
class Plant:
    """A change, the kind of the finding that names it, and where it must be found ("": anywhere, of the book)."""

    kind: str
    change: Callable[[Copy], Spot]


PLANTS: dict[str, Plant] = {}


def plant(kind: str, table: dict[str, Plant] = PLANTS) -> Callable[[Callable[[Copy], Spot]], Callable[[Copy], Spot]]:
    """Enters a change into a table under its own name; it gives the sheet and cell that must be named."""

    def enter(change: Callable[[Copy], Spot]) -> Callable[[Copy], Spot]:
        table[change.__name__.replace("_", " ")] = Plant(kind, change)
        return change

    return enter
