"""Copies of a good workbook that two readers would read in two ways, each with a part or a head that only one heeds."""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Callable

from tests.support.hostile import RELATIONS, Parts, replaced, with_part

CONTENT, BOOK, SHEET = "[Content_Types].xml", "xl/workbook.xml", "xl/worksheets/sheet15.xml"
DRAWING = "xl/drawings/_rels/drawing1.xml.rels"
_KIND = b"application/vnd.openxmlformats-officedocument.spreadsheetml"
_STRICT = b'xmlns:s="http://purl.oclc.org/ooxml/officeDocument/relationships"'
DIFFERING: dict[str, Callable[[Parts], Parts]] = {
    "a drawing to which nothing leads": with_part("xl/drawings/drawing99.xml", b"<a/>"),
    "a sheet to which nothing leads": lambda p: p | {"xl/worksheets/sheet99.xml": p[SHEET]},
    "a picture to which nothing leads": with_part("xl/media/image1.png"),
    "relations of a part that is not there": with_part("xl/worksheets/_rels/sheet99.xml.rels", b"<a/>"),
    "a relation in the root of another kind": replaced(
        "_rels/.rels", b"2006/relationships/officeDocument", b"x/officeDocument"
    ),
    "a base for targets": replaced(RELATIONS, b"<Relationships ", b'<Relationships xml:base="/xl/other/" '),
    "a relation of a kind that only looks like one": replaced(
        RELATIONS, b"officeDocument/2006/relationships/worksheet", b"officeDocument/2007/relationships/worksheet"
    ),
    "a relation with more to say": replaced(RELATIONS, b"<Relationship ", b'<Relationship Target2="x" '),
    "something else among relations": replaced(RELATIONS, b"</Relationships>", b"<Other/></Relationships>"),
    "a relation twice in a drawing": replaced(DRAWING, b'Id="rId2"', b'Id="rId1"'),
    "two sheets in one part": replaced(RELATIONS, b"worksheets/sheet16.xml", b"worksheets/sheet15.xml"),
    "a second relation of a sheet": lambda p: (
        p
        | {
            BOOK: p[BOOK]
            .replace(b"<workbook ", b"<workbook " + _STRICT + b" ", 1)
            .replace(b'r:id="rId15"', b'r:id="rId15" s:id="rId16"', 1)
        }
    ),
    "a sheet told to be a page with a chart": replaced(
        CONTENT,
        b'/xl/worksheets/sheet15.xml" ContentType="%s.worksheet' % _KIND,
        b'/xl/worksheets/sheet15.xml" ContentType="%s.chartsheet' % _KIND,
    ),
    "a part told twice": replaced(
        CONTENT, b"</Types>", b'<Override PartName="/XL/styles.xml" ContentType="application/xml"/></Types>'
    ),
    "a part told that is not there": replaced(
        CONTENT, b"</Types>", b'<Override PartName="/xl/none.xml" ContentType="application/xml"/></Types>'
    ),
    "content that only some readers process": replaced(
        SHEET, b"<worksheet ", b'<worksheet zz:ProcessContent="x" xmlns:zz="urn:x" '
    ),
    "content that must be understood": replaced(
        SHEET, b"<worksheet ", b'<worksheet zz:MustUnderstand="x" xmlns:zz="urn:x" '
    ),
    "a second book": replaced(
        "_rels/.rels",
        b"</Relationships>",
        b'<Relationship Id="rId99" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/'
        b'officeDocument" Target="xl/workbook.xml"/></Relationships>',
    ),
}
_ODD_TARGETS = (
    *("./worksheets/sheet15.xml", "worksheets/./sheet15.xml", "worksheets//sheet15.xml", "worksheets/x/../sheet15.xml"),
    *("worksheets/sheet15%2Exml", "Worksheets/sheet15.xml", "worksheets\\sheet15.xml", "worksheets/sheet15.xml?a"),
    *(
        "worksheets/sheet15.xml#a",
        " worksheets/sheet15.xml",
        "file:///xl/worksheets/sheet15.xml",
        "//xl/worksheets/sheet15.xml",
    ),
)


def _aimed(target: str) -> Callable[[Parts], Parts]:
    """The relation of a sheet aims at another writing of its name; with a decoy where one reader would look."""

    def change(parts: Parts) -> Parts:
        decoy = {} if "\\" in target else {f"xl/{target}": parts[SHEET]}
        return replaced(RELATIONS, b'"worksheets/sheet15.xml"', f'"{target}"'.encode())(parts) | decoy

    return change


DIFFERING |= {f"a target written {target!r}": _aimed(target) for target in _ODD_TARGETS}


def _zipped(change: Callable[[zipfile.ZipInfo], None]) -> Callable[[bytes], bytes]:
    """The same parts packed anew, one head of a part changed by the writer."""

    def pack(content: bytes) -> bytes:
        target = io.BytesIO()
        with (
            zipfile.ZipFile(io.BytesIO(content)) as source,
            zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as zipped,
        ):
            for name in source.namelist():
                info = zipfile.ZipInfo(name)
                info.compress_type = zipfile.ZIP_DEFLATED
                if name == SHEET:
                    change(info)
                zipped.writestr(info, source.read(name))
        return target.getvalue()

    return pack


def _in_head(offset: int, data: bytes) -> Callable[[bytes], bytes]:
    """One field of the first part's own head changed; the list stays."""

    def change(content: bytes) -> bytes:
        return content[:offset] + data + content[offset + len(data) :]

    return change


def _unicode_name(info: zipfile.ZipInfo) -> None:
    name = b"xl/worksheets/sheet16.xml"
    info.extra = struct.pack("<HHBL", 0x7075, 5 + len(name), 1, 0) + name


def _comment(info: zipfile.ZipInfo) -> None:
    info.comment = b"xl/worksheets/sheet16.xml"


def _archive_comment(content: bytes) -> bytes:
    return content[:-2] + struct.pack("<H", 4) + b"more"


def _between(content: bytes) -> bytes:
    """A whole part between the parts and the list, which only a reader from front to back finds."""
    at = struct.unpack("<L", content[-6:-2])[0]
    hidden = io.BytesIO()
    with zipfile.ZipFile(hidden, "w") as archive:
        archive.writestr("xl/sharedStrings.xml", b"<sst/>")
    part = hidden.getvalue()[: -22 - 46 - len("xl/sharedStrings.xml")]
    return content[:at] + part + content[at:-6] + struct.pack("<L", at + len(part)) + content[-2:]


ZIPPED: dict[str, Callable[[bytes], bytes]] = {
    "another name in Unicode": _zipped(_unicode_name),
    "a comment of a part": _zipped(_comment),
    "a comment of the file": _archive_comment,
    "another name in the head": _in_head(30, b"[content_types].xml"),
    "another size in the head": _in_head(22, b"\x01\0\0\0"),
    "another sum in the head": _in_head(14, b"\1\2\3\4"),
    "another packing in the head": _in_head(8, b"\0\0"),
    "a part between parts and list": _between,
    "something before the first part": lambda content: b"PK\3\4" + bytes(26) + content,
    "something behind the list": lambda content: content + b"PK",
}
