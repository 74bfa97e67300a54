"""Copies of a good workbook with one thing wrong, as a careless or hostile sender would make them."""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

Parts = dict[str, bytes]
RELATIONS = "xl/_rels/workbook.xml.rels"
HYPERLINK = (
    b'<Relationship Id="rId999" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/hyperlink" '
    b'Target="http://example.invalid/x" TargetMode="External"/></Relationships>'
)


def parts_of(path: Path) -> Parts:
    """The unpacked parts of a workbook."""
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def pack(parts: Mapping[str, bytes], path: Path, method: int = zipfile.ZIP_DEFLATED) -> Path:
    """A zip file of these parts."""
    with zipfile.ZipFile(path, "w", method) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return path


def with_part(name: str, data: bytes = b"x") -> Callable[[Parts], Parts]:
    """One part more, or another content for it."""
    return lambda parts: parts | {name: data}


def without(name: str) -> Callable[[Parts], Parts]:
    """One part less."""
    return lambda parts: {key: data for key, data in parts.items() if key != name}


def replaced(name: str, old: bytes, new: bytes) -> Callable[[Parts], Parts]:
    """One stretch of a part changed; it must be there."""

    def change(parts: Parts) -> Parts:
        assert old in parts[name]
        return parts | {name: parts[name].replace(old, new, 1)}

    return change


_SHEET = "xl/worksheets/sheet1.xml"
_LAUGHS = b'<!DOCTYPE a [<!ENTITY b "ha">' + b"".join(b'<!ENTITY b%d "&b;&b;">' % n for n in range(9)) + b"]><worksheet"
# Each with the key of the reason for which it must be refused.
SPOILT: dict[str, tuple[str, Callable[[Parts], Parts]]] = {
    "entities": ("declares", replaced(_SHEET, b"<worksheet", _LAUGHS)),
    "doctype in the shared texts": (
        "declares",
        replaced("xl/sharedStrings.xml", b"<sst", b'<!DOCTYPE sst SYSTEM "file:///etc/passwd"><sst'),
    ),
    "another encoding": ("encoding", lambda p: p | {_SHEET: p[_SHEET].decode().encode("utf-16")}),
    "encoding declared": ("encoding", replaced(_SHEET, b'encoding="UTF-8"', b'encoding="UTF-7"')),
    "no XML": ("bad_xml", with_part("xl/workbook.xml", b"<workbook><sheets>")),
    "macros": ("macros", with_part("xl/vbaProject.bin")),
    "macro type": ("macros", replaced("[Content_Types].xml", b"sheet.main+xml", b"sheet.macroEnabled.main+xml")),
    "old macro sheet": ("macros", with_part("xl/macrosheets/sheet1.xml", b"<a/>")),
    "embedded program": ("macros", with_part("xl/embeddings/oleObject1.bin")),
    "external book": ("links", with_part("xl/externalLinks/externalLink1.xml", b"<a/>")),
    "data connection": ("links", with_part("xl/connections.xml", b"<a/>")),
    "link to the network": ("links", replaced(RELATIONS, b"</Relationships>", HYPERLINK)),
    "no book": ("no_part", without("xl/workbook.xml")),
    "no content types": ("no_part", without("[Content_Types].xml")),
    "no sheet": ("no_part", without(_SHEET)),
    "another book": ("odd_part", replaced("_rels/.rels", b"xl/workbook.xml", b"xl/otherbook.xml")),
    "part climbing out": ("odd_part", with_part("../../outside.xml", b"<a/>")),
    "part at the root": ("odd_part", with_part("/xl/a.xml", b"<a/>")),
    "too many parts": ("many_parts", lambda p: p | {f"xl/media/{n}.xml": b"<a/>" for n in range(500)}),
    "bomb": ("squeezed", with_part("xl/media/a.xml", b" " * 30_000_000)),
    "OpenDocument": ("open_document", lambda _: {"mimetype": b"a", "content.xml": b"<a/>"}),
    "text document": ("text_document", with_part("word/document.xml", b"<a/>")),
    "zip of anything": ("no_part", lambda _: {"photo.jpg": b"x"}),
}
