"""Opens workbooks that come from strangers: everything odd is refused, each with one clear sentence.

A file is unpacked only after its size, its number of parts, their sizes and how far they are squeezed have been
looked at. Nothing in it is run, followed or written. Cached values are claims: who needs them computes them anew.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from builder.engine.exchange.archive import unpack
from builder.engine.exchange.refused import Refused
from builder.engine.exchange.relations import (
    BOOK,
    BOOK_RELATIONS,
    CONTENT,
    ROOT_RELATIONS,
    STYLES,
    TEXTS,
    THEME,
    Package,
    parse_part,
    resolve,
)

__all__ = ["BOOK", "STYLES", "TEXTS", "THEME", "Package", "Refused", "open_untrusted", "parse_part"]

LARGEST_FILE = 20_000_000  # bytes; some eight times what our largest has

_OLD_HEAD, _ZIP_HEAD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", b"PK"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_OTHER = {"content.xml": "open_document", "word/document.xml": "text_document", "xl/workbook.bin": "binary_book"}
_MACROS = re.compile(r"vba|macrosheets?/|dialogsheets/|activex|ctrlprops|embeddings/|customui|\.bin$", re.I)
_PRINTER = re.compile(r"xl/printersettings/", re.I)
_LINKS = re.compile(r"externallinks/|connections\.xml|querytables/|/model/|webextensions|customdata/", re.I)
_ENCODING = re.compile(rb"""<\?xml[^>]*encoding\s*=\s*["']([^"']*)""")
_VERSION = re.compile(rb"""<\?xml\s+version\s*=\s*["']1\.[01]["']""")
_UTF8 = (b"utf-8", b"utf8", b"us-ascii", b"ascii")
_OTHERWISE_READ = (b"xml:base", b"ProcessContent", b"MustUnderstand")  # what only some readers heed


def open_untrusted(path: Path) -> Package:
    """The parts of a workbook, unpacked in memory.

    Raises Refused for anything that a spreadsheet program would not have saved, and for macros, links to elsewhere
    and document types even then."""
    name = path.name
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise Refused("too_large", name, _bytes(size), _bytes(LARGEST_FILE))
        packed = path.read_bytes()
    except FileNotFoundError:
        raise Refused("missing", name) from None
    except OSError as error:
        raise Refused("unreadable", name, error.strerror) from None
    _refuse_other_formats(name, packed)
    return judged(name, unpack(name, packed))


def judged(name: str, parts: Mapping[str, bytes]) -> Package:
    """The ways through the parts of a workbook. Raises Refused."""
    _refuse_active(name, parts)
    for part, data in parts.items():
        if part.endswith((".xml", ".rels", ".vml")):
            _judge_xml(name, part, data)
    return resolve(name, parts)


def _bytes(number: int) -> str:
    return f"{number / 1e6:.0f} MB"


def _refuse_other_formats(name: str, packed: bytes) -> None:
    if not packed:
        raise Refused("empty", name)
    if packed.startswith(_OLD_HEAD):
        raise Refused("locked" if _ENCRYPTED in packed else "old_format", name)
    if not packed.startswith(_ZIP_HEAD):
        raise Refused("no_zip", name)


def _refuse_active(name: str, parts: Mapping[str, bytes]) -> None:
    for part, key in _OTHER.items():
        if part in parts:
            raise Refused(key, name)
    for part in (CONTENT, ROOT_RELATIONS, BOOK, BOOK_RELATIONS):
        if part not in parts:
            raise Refused("no_part", name, part)
    for part in parts:
        if _MACROS.search(part) and not _PRINTER.match(part):
            raise Refused("macros", name, part)
        if _LINKS.search(part):
            raise Refused("links", name, part)
    if b"macroEnabled" in parts[CONTENT]:
        raise Refused("macros", name, CONTENT)


def _judge_xml(name: str, part: str, data: bytes) -> None:
    """Text in UTF-8 without a document type: then looking for plain bytes is enough."""
    declared = _ENCODING.match(data.removeprefix(b"\xef\xbb\xbf"))
    if b"\0" in data or (declared and declared[1].lower() not in _UTF8):
        raise Refused("encoding", name, part)
    if b"<?xml " in data[:100] and not _VERSION.search(data[:100]):
        raise Refused("odd_content", name, f"{part} is of another version of the language")
    if b"<!DOCTYPE" in data or b"<!ENTITY" in data:
        raise Refused("declares", name, part)
    for mark in _OTHERWISE_READ:
        if mark in data:
            raise Refused("odd_content", name, f"{mark.decode()} stands in {part}")
