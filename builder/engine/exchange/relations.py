"""Which part of a workbook is what: one way through its relations for all who read it, and for the programs.

Refused is every file in which two readers could go two ways: names and targets that one of them would shorten, unquote
or compare without regard to case, parts that nothing leads to, kinds that the list of contents tells otherwise, two
relations of one name.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple
from xml.etree.ElementTree import Element, ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring

from builder.engine.exchange.cellvalues import MAIN
from builder.engine.exchange.refused import Refused

CONTENT, ROOT_RELATIONS = "[Content_Types].xml", "_rels/.rels"
BOOK, BOOK_RELATIONS = "xl/workbook.xml", "xl/_rels/workbook.xml.rels"
TEXTS, STYLES, THEME = "xl/sharedStrings.xml", "xl/styles.xml", "xl/theme/theme1.xml"
PLACES = {"sharedStrings": TEXTS, "styles": STYLES, "theme": THEME}  # where every program keeps what has this relation
SHEETS = ("worksheet", "chartsheet")  # the kinds of sheets, each with an element of that name
# What the list of contents says of a part that has this relation.
TOLD = {kind: f".{kind}+xml" for kind in (*SHEETS, *PLACES, "drawing", "chart", "comments", "table")}
TOLD |= {"officeDocument": ".sheet.main+xml"}
_OURS = "application/vnd.openxmlformats-officedocument."
_RELATIONS = "{http://schemas.openxmlformats.org/package/2006/relationships}"
_CONTENTS = "{http://schemas.openxmlformats.org/package/2006/content-types}"
_OFFICE = (
    "http://schemas.openxmlformats.org/officeDocument/2006/relationships/",
    "http://purl.oclc.org/ooxml/officeDocument/relationships/",
)
_NAME = re.compile(r"(?:[A-Za-z0-9_-]+(?:\.[A-Za-z0-9_-]+)*/)*(?:[A-Za-z0-9_-]+(?:\.[A-Za-z0-9_-]+)*|\.rels)")
_TARGET = re.compile(rf"(?:/|(?:\.\./)*){_NAME.pattern}")


class Relation(NamedTuple):
    """What another part is to one: its kind, such as "worksheet", and its name."""

    kind: str
    part: str


@dataclass(frozen=True)
class Package:
    """The unpacked parts of a workbook that passed, and its worksheets (title, part name) in the order of the tabs.

    `relations` has, by part and by the name it gives it, each other part that it leads to.
    """

    name: str
    parts: Mapping[str, bytes]
    sheets: tuple[tuple[str, str], ...]
    relations: Mapping[str, Mapping[str, Relation]]


def resolve(name: str, parts: Mapping[str, bytes]) -> Package:
    """The ways through a workbook. Raises Refused."""
    relations = {_source(name, part, parts): _read(name, part, parts) for part in parts if part.endswith(".rels")}
    _judge_places(name, parts, relations)
    sheets = _sheets(name, parts, relations.get(BOOK, {}))
    _judge_contents(name, parts, relations)
    return Package(name, parts, sheets, relations)


def parse_part(name: str, part: str, data: bytes) -> Element:
    """The XML tree of one part. Raises Refused."""
    try:
        return fromstring(data, forbid_dtd=True)
    except DefusedXmlException:
        raise Refused("declares", name, part) from None
    except (ParseError, ValueError, LookupError):
        raise Refused("bad_xml", name, part) from None


def related(name: str, element: Element) -> str:
    """The name of the relation that an element cites; "" for none. Raises Refused where readers could take two."""
    cited = [value for key, value in element.attrib.items() if key.rpartition("}")[2] == "id" and key != "id"]
    known = [f"{{{space[:-1]}}}id" for space in _OFFICE]
    if len(cited) > 1 or (cited and not any(key in element.attrib for key in known)):
        raise Refused("odd_content", name, "an element cites two relations, or one of no known kind")
    return cited[0] if cited else ""


def _source(name: str, part: str, parts: Mapping[str, bytes]) -> str:
    """The part whose relations stand in a part."""
    folder, _, own = part.removesuffix(".rels").rpartition("/")
    source = posixpath.join(folder.removesuffix("_rels"), own)
    if not (folder == "_rels" or folder.endswith("/_rels")) or (source and source not in parts):
        raise Refused("odd_part", name, ascii(part))
    return source


def _read(name: str, part: str, parts: Mapping[str, bytes]) -> dict[str, Relation]:
    """The relations of one part."""
    folder = "/" + posixpath.dirname(posixpath.dirname(part))
    found: dict[str, Relation] = {}
    root = parse_part(name, part, parts[part])
    for element in root:
        target, key = element.get("Target", ""), element.get("Id", "")
        if element.get("TargetMode") == "External":
            raise Refused("links", name, target[:60] or part)
        if (
            element.attrib.keys() - {"TargetMode"} != {"Id", "Type", "Target"}
            or element.tag != _RELATIONS + "Relationship"
        ):
            raise Refused("odd_content", name, f"{part} holds something that is no relation")
        if key in found:
            raise Refused("odd_content", name, f"the relation {key[:20]} is there twice")
        if not _TARGET.fullmatch(target):
            raise Refused("odd_part", name, ascii(target[:60]))
        office, kind = _kind(element.get("Type", ""))
        if not office and kind in TOLD:
            raise Refused("odd_content", name, f"the relation {key[:20]} is of a kind that programs do not know")
        found[key] = Relation(kind, posixpath.normpath(posixpath.join(folder, target)).lstrip("/"))
    if root.attrib or root.tag != _RELATIONS + "Relationships":
        raise Refused("odd_content", name, f"{part} holds something that is no relation")
    return found


def _kind(told: str) -> tuple[bool, str]:
    space, mark, kind = told.rpartition("/")
    return space + mark in _OFFICE, kind


def _judge_places(name: str, parts: Mapping[str, bytes], relations: Mapping[str, Mapping[str, Relation]]) -> None:
    """The book, its texts and its styles stand where programs keep them, once; every part is reached."""
    books = [relation.part for relation in relations[""].values() if relation.kind == "officeDocument"]
    if books != [BOOK]:
        raise Refused("odd_part", name, ascii(", ".join(books)[:60]))
    kinds = [relation.kind for relation in relations.get(BOOK, {}).values()]
    for kind, part in PLACES.items():
        if kinds.count(kind) > 1 or (part in parts) != (kind in kinds):
            raise Refused("odd_part", name, ascii(part))
    for relation in relations.get(BOOK, {}).values():
        if relation.part != PLACES.get(relation.kind, relation.part):
            raise Refused("odd_part", name, ascii(relation.part[:60]))
    reached, pending = {CONTENT, ROOT_RELATIONS}, [""]
    while pending:
        source = pending.pop()
        reached.add(posixpath.join(posixpath.dirname(source), "_rels", posixpath.basename(source) + ".rels"))
        pending += [relation.part for relation in relations.get(source, {}).values() if relation.part not in reached]
        reached.add(source)
    for part in parts:
        if part != CONTENT and not _NAME.fullmatch(part):
            raise Refused("odd_part", name, ascii(part[:60]))
        if part not in reached:
            raise Refused("unreached", name, part)


def _sheets(name: str, parts: Mapping[str, bytes], relations: Mapping[str, Relation]) -> tuple[tuple[str, str], ...]:
    """Title and part of each sheet, as every program finds them."""
    root = parse_part(name, BOOK, parts[BOOK])
    space = root.tag.removesuffix("workbook")
    listed = [element for group in root if group.tag == space + "sheets" for element in group]
    named = [element for element in root.iter() if _local(element.tag) in ("sheets", "sheet")]
    if space.strip("{}") not in MAIN or len(named) != len(listed) + 1 or {e.tag for e in listed} - {space + "sheet"}:
        raise Refused("odd_content", name, "its sheets are listed at odd places")
    found = []
    for element in listed:
        kind, part = relations.get(related(name, element), ("", ""))
        if part not in parts:
            raise Refused("no_part", name, part or element.get("name", ""))
        if kind not in SHEETS or (kind != SHEETS[0] and _local(parse_part(name, part, parts[part]).tag) != kind):
            raise Refused("odd_part", name, ascii(part))
        found.append((element.get("name", ""), part))
    if not found:
        raise Refused("no_part", name, "xl/worksheets/sheet1.xml")
    if len({title.casefold() for title, _ in found}) < len(found) or len({part for _, part in found}) < len(found):
        raise Refused("odd_content", name, "two sheets have the same name or the same part")
    return tuple(found)


def _judge_contents(name: str, parts: Mapping[str, bytes], relations: Mapping[str, Mapping[str, Relation]]) -> None:
    """The list of contents tells of each part, once, what its relations tell."""
    single: dict[str, str] = {}
    usual: dict[str, str] = {}
    for element in parse_part(name, CONTENT, parts[CONTENT]):
        table, key = {"Override": (single, "PartName"), "Default": (usual, "Extension")}.get(
            element.tag.removeprefix(_CONTENTS), (None, "")
        )
        told = element.get(key, "")
        if table is None or element.attrib.keys() != {key, "ContentType"} or told.casefold() in table:
            raise Refused("odd_content", name, f"its list of contents is no such list ({told[:60]})")
        if table is single and (not told.startswith("/") or told[1:] not in parts):
            raise Refused("odd_part", name, ascii(told[:60]))
        table[told.casefold()] = element.get("ContentType", "")
    for part in parts:
        if part != CONTENT and "/" + part.casefold() not in single and part.rpartition(".")[2].casefold() not in usual:
            raise Refused("odd_part", name, ascii(part[:60]))
    for leads in relations.values():
        for kind, part in leads.values():
            told = single.get("/" + part.casefold(), "")
            if part in parts and kind in TOLD and not (told.startswith(_OURS) and told.endswith(TOLD[kind])):
                raise Refused("odd_content", name, f"the list of contents tells {part[:60]} to be something else")


def _local(tag: str) -> str:
    return tag.rpartition("}")[2]
