"""Opens workbooks that come from strangers: everything odd is refused, each with one clear sentence.

A file is unpacked only after its size, its number of parts, their sizes and how far they are squeezed have been
looked at. Nothing in it is run, followed or written. Cached values are claims: who needs them computes them anew.
"""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, ParseError

import openpyxl
from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring

from builder.exchange.cellvalues import MAIN
from builder.spec.load import SPECS
from builder.spec.words import Words

# Some ten times what a filled planning workbook or a full register needs, saved by any program.
LARGEST_FILE = 20_000_000  # bytes
LARGEST_UNPACKED = 100_000_000  # bytes, all parts together
MOST_PARTS = 400
MOST_SQUEEZED = 100  # unpacked bytes for each packed one; the tightest part of our own files has 20
SMALL_PART = 100_000  # bytes unpacked, below which squeezing is no danger

CONTENT, ROOT_RELATIONS = "[Content_Types].xml", "_rels/.rels"
BOOK, BOOK_RELATIONS = "xl/workbook.xml", "xl/_rels/workbook.xml.rels"
TEXTS, STYLES, THEME = "xl/sharedStrings.xml", "xl/styles.xml", "xl/theme/theme1.xml"
PLACES = {"sharedStrings": TEXTS, "styles": STYLES, "theme": THEME}  # where every program keeps what has this relation
SHEETS = ("worksheet", "chartsheet")  # the kinds of sheets, each with an element of that name
_RELATION_ID = (
    "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id",
    "{http://purl.oclc.org/ooxml/officeDocument/relationships}id",
)
_OLD_HEAD, _ZIP_HEAD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", b"PK"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_OTHER = {"content.xml": "open_document", "word/document.xml": "text_document", "xl/workbook.bin": "binary_book"}
_MACROS = re.compile(r"vba|macrosheets?/|dialogsheets/|activex|ctrlprops|embeddings/|customui|\.bin$", re.I)
_PRINTER = re.compile(r"xl/printersettings/", re.I)
_LINKS = re.compile(r"externallinks/|connections\.xml|querytables/|/model/|webextensions|customdata/", re.I)
_ENCODING = re.compile(rb"""<\?xml[^>]*encoding\s*=\s*["']([^"']*)""")
_UTF8 = (b"utf-8", b"utf8", b"us-ascii", b"ascii")


@cache
def _messages() -> Words:
    return Words(SPECS / "messages.en.toml")


class Refused(Exception):
    """A file that is not taken: which file, the key of the reason, and the sentence to show."""

    def __init__(self, key: str, file: str, what: object = "", limit: object = "") -> None:
        self.key, self.file, self._filled = key, file, (key, file, what, limit)
        self.sentence = _messages().get("refusal", key).format(file=file, what=what, limit=limit)
        super().__init__(self.sentence)

    def __reduce__(self) -> tuple[type[Refused], tuple[object, ...]]:
        """A process hands it over to another."""
        return Refused, self._filled


@dataclass(frozen=True)
class Package:
    """The unpacked parts of a workbook that passed, and its worksheets (title, part name) in the order of the tabs."""

    name: str
    parts: Mapping[str, bytes]
    sheets: tuple[tuple[str, str], ...]
    packed: bytes

    def load(self) -> Any:
        """The workbook as openpyxl reads it, with formulas and not with stored values. Raises Refused."""
        try:
            return openpyxl.load_workbook(io.BytesIO(self.packed), keep_links=False)
        except Exception as error:  # a stranger's file may break the reader in any way
            raise Refused("bad_xml", self.name, type(error).__name__) from error


def open_untrusted(path: Path) -> Package:
    """Unpacks a workbook in memory. Raises Refused for anything that a spreadsheet program would not have saved,
    and for macros, links to elsewhere and document types even then."""
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
    try:
        with zipfile.ZipFile(io.BytesIO(packed)) as archive:
            _judge_parts(name, archive.infolist())
            parts = {part.filename: archive.read(part) for part in archive.infolist() if not part.is_dir()}
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError) as error:
        raise Refused("cut", name, error) from None
    _refuse_active(name, parts)
    for part, data in parts.items():
        if part.endswith((".xml", ".rels", ".vml")):
            _judge_xml(name, part, data)
    _refuse_links(name, parts)
    return Package(name, parts, _sheets(name, parts), packed)


def load_untrusted(path: Path) -> Any:
    """open_untrusted(path).load(): the formulas of a stranger's workbook, by openpyxl. Raises Refused."""
    return open_untrusted(path).load()


def parse_part(name: str, part: str, data: bytes) -> Element:
    """The XML tree of one part. Raises Refused."""
    try:
        return fromstring(data, forbid_dtd=True)
    except DefusedXmlException:
        raise Refused("declares", name, part) from None
    except (ParseError, ValueError, LookupError):
        raise Refused("bad_xml", name, part) from None


def _bytes(number: int) -> str:
    return f"{number / 1e6:.0f} MB"


def _refuse_other_formats(name: str, packed: bytes) -> None:
    if not packed:
        raise Refused("empty", name)
    if packed.startswith(_OLD_HEAD):
        raise Refused("locked" if _ENCRYPTED in packed else "old_format", name)
    if not packed.startswith(_ZIP_HEAD):
        raise Refused("no_zip", name)


def _judge_parts(name: str, parts: list[zipfile.ZipInfo]) -> None:
    if len(parts) > MOST_PARTS:
        raise Refused("many_parts", name, f"{len(parts):,}", MOST_PARTS)
    seen: set[str] = set()
    total = 0
    for part in parts:
        title = part.filename
        if part.flag_bits & 1:
            raise Refused("locked", name)
        odd_name = title.startswith("/") or "\\" in title or ".." in title.split("/") or not title.isprintable()
        if odd_name or part.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise Refused("odd_part", name, ascii(title))
        if title.casefold() in seen:
            raise Refused("twice", name, title)
        seen.add(title.casefold())
        total += part.file_size
        if part.file_size > max(SMALL_PART, MOST_SQUEEZED * part.compress_size):
            raise Refused("squeezed", name, title, MOST_SQUEEZED)
        if total > LARGEST_UNPACKED:
            raise Refused("swollen", name, limit=_bytes(LARGEST_UNPACKED))


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
    if b"<!DOCTYPE" in data or b"<!ENTITY" in data:
        raise Refused("declares", name, part)


def _refuse_links(name: str, parts: Mapping[str, bytes]) -> None:
    """Nothing outside the file, and no other book in it than the one that is looked at."""
    for part, data in parts.items():
        if part.endswith(".rels"):
            for relation in parse_part(name, part, data):
                if relation.get("TargetMode") == "External":
                    raise Refused("links", name, relation.get("Target", part)[:60])
                another = part == ROOT_RELATIONS and relation.get("Type", "").endswith("/officeDocument")
                if another and relation.get("Target", "").lstrip("/") != BOOK:
                    raise Refused("odd_part", name, ascii(relation.get("Target", part)[:60]))


def _sheets(name: str, parts: Mapping[str, bytes]) -> tuple[tuple[str, str], ...]:
    """Title and part of each sheet, as every program finds them. Raises Refused where readers could differ."""
    targets, kinds = _relations(name, parts)
    root = parse_part(name, BOOK, parts[BOOK])
    space = root.tag.removesuffix("workbook")
    listed = [element for group in root if group.tag == space + "sheets" for element in group]
    named = [element for element in root.iter() if _local(element.tag) in ("sheets", "sheet")]
    if space.strip("{}") not in MAIN or len(named) != len(listed) + 1 or {e.tag for e in listed} - {space + "sheet"}:
        raise Refused("odd_content", name, "its sheets are listed at odd places")
    found = []
    for element in listed:
        relation = next((element.attrib[key] for key in _RELATION_ID if key in element.attrib), "")
        part, kind = targets.get(relation, ""), kinds.get(relation, "")
        if part not in parts:
            raise Refused("no_part", name, part or element.get("name", ""))
        if kind not in SHEETS or (kind != SHEETS[0] and _local(parse_part(name, part, parts[part]).tag) != kind):
            raise Refused("odd_part", name, ascii(part))
        found.append((element.get("name", ""), part))
    if not found:
        raise Refused("no_part", name, "xl/worksheets/sheet1.xml")
    if len({title.casefold() for title, _ in found}) < len(found):
        raise Refused("odd_content", name, "two sheets have the same name")
    return tuple(found)


def _relations(name: str, parts: Mapping[str, bytes]) -> tuple[dict[str, str], dict[str, str]]:
    """Part and kind of each relation of the book, by its name. Raises Refused: texts and styles at another place."""
    targets: dict[str, str] = {}
    kinds: dict[str, str] = {}
    for relation in parse_part(name, BOOK_RELATIONS, parts[BOOK_RELATIONS]):
        key, kind = relation.get("Id", ""), relation.get("Type", "").rpartition("/")[2]
        if key in targets or (kind in PLACES and kind in kinds.values()):
            raise Refused("odd_content", name, f"the relation {key[:20]} is there twice")
        targets[key] = posixpath.normpath(posixpath.join("/xl", relation.get("Target", ""))).lstrip("/")
        kinds[key] = kind
        if targets[key] != PLACES.get(kind, targets[key]):
            raise Refused("odd_part", name, ascii(targets[key][:60]))
    for kind, part in PLACES.items():
        if part in parts and kind not in kinds.values():
            raise Refused("odd_part", name, ascii(part))
    return targets, kinds


def _local(tag: str) -> str:
    return tag.rpartition("}")[2]
