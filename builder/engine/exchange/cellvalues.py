"""Read the values stored in an .xlsx file, fast and as they are.

Only values are read: no styles, so a date stays its serial number and a double keeps its last bit.
"""

import math
import posixpath
import re
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from xml.parsers import expat

from builder.engine.told import Told

Value = float | str | bool | None
Cells = dict[tuple[str, str], Value]
_Start = Callable[[str, dict[str, str]], None]
_Text = Callable[[str], None]

MAIN = (
    "http://schemas.openxmlformats.org/spreadsheetml/2006/main",
    "http://purl.oclc.org/ooxml/spreadsheetml/main",
)  # the namespaces of the format's own elements
_DOUBLE = re.compile(r"[-+]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")
_BROKEN = (OSError, zipfile.BadZipFile, zlib.error, expat.ExpatError, LookupError, ValueError, RuntimeError)


class UnreadableFile(Told):
    """The file is not a workbook that this reader accepts."""


def read_values(path: Path) -> Cells:
    """Values of a workbook by (sheet title, cell address such as "B12").

    Numbers come as float, texts and error values such as "#VALUE!" as str, blank cells and empty texts as None,
    logical values as bool. Cells that exist only for their style are included as None.
    Raises UnreadableFile when the file is no workbook or its XML declares a document type.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            names = set(archive.namelist())
            texts = _shared_texts(archive.read("xl/sharedStrings.xml")) if "xl/sharedStrings.xml" in names else []
            cells: Cells = {}
            for title, part in sheet_parts(archive):
                for address, value in _sheet_values(archive.read(part), texts):
                    cells[title, address] = value
            return cells
    except _BROKEN as error:
        raise UnreadableFile(f"{path}: not a readable .xlsx workbook ({error})") from error


def double(text: str) -> float:
    """A number as the format writes it. Raises ValueError, also for 1_000 and NaN, which Python alone reads."""
    value = float(text) if _DOUBLE.fullmatch(text) else math.nan
    if not math.isfinite(value):
        raise ValueError(f"{text[:40]!r} is no number")
    return value


def _parse(data: bytes, start: _Start, end: _Text | None = None, text: _Text | None = None) -> None:
    """Run the handlers over one XML part; entity tricks are impossible because a DOCTYPE is refused."""

    def refuse(*_: object) -> None:
        raise ValueError("a document type declaration is not allowed")

    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = refuse
    parser.StartElementHandler = lambda tag, attributes: start(tag.rpartition(" ")[2], attributes)
    if end:
        parser.EndElementHandler = lambda tag: end(tag.rpartition(" ")[2])
    if text:
        parser.CharacterDataHandler = text
    parser.Parse(data, True)


def sheet_parts(archive: zipfile.ZipFile) -> list[tuple[str, str]]:
    """(title, part name) of each worksheet in tab order."""
    targets: dict[str, str] = {}
    found: list[tuple[str, str]] = []

    def relation(tag: str, attributes: dict[str, str]) -> None:
        if tag == "Relationship":
            targets[attributes["Id"]] = posixpath.normpath(posixpath.join("/xl", attributes["Target"])).lstrip("/")

    def sheet(tag: str, attributes: dict[str, str]) -> None:
        if tag == "sheet":
            relation_id = [value for name, value in attributes.items() if name.endswith(" id")]
            found.append((attributes["name"], targets[relation_id[0]]))

    _parse(archive.read("xl/_rels/workbook.xml.rels"), relation)
    _parse(archive.read("xl/workbook.xml"), sheet)
    return found


def _shared_texts(data: bytes) -> list[str]:
    texts: list[str] = []
    inside = False

    def start(tag: str, _: dict[str, str]) -> None:
        nonlocal inside
        if tag == "si":
            texts.append("")
        inside = tag == "t"

    def end(_: str) -> None:
        nonlocal inside
        inside = False

    def text(data: str) -> None:
        if inside:
            texts[-1] += data

    _parse(data, start, end, text)
    return texts


def _sheet_values(data: bytes, texts: list[str]) -> list[tuple[str, Value]]:
    values: list[tuple[str, Value]] = []
    seen: set[str] = set()
    address = kind = content = ""
    inside = False

    def start(tag: str, attributes: dict[str, str]) -> None:
        nonlocal address, kind, content, inside
        if tag == "c":
            address, kind, content = attributes["r"], attributes.get("t", "n"), ""
            if address in seen:
                raise ValueError(f"the cell {address} is there twice")
            seen.add(address)
        inside = tag in ("v", "t")

    def end(tag: str) -> None:
        nonlocal inside
        inside = False
        if tag == "c":
            values.append((address, _value(kind, content, texts)))

    def text(data: str) -> None:
        nonlocal content
        if inside:
            content += data

    _parse(data, start, end, text)
    return values


def _value(kind: str, content: str, texts: list[str]) -> Value:
    if content == "":
        return None
    if kind == "n":
        return double(content)
    if kind == "b":
        return content == "1"
    if kind == "s":
        return texts[int(content)] or None
    return content
