"""What a cell stores: numbers and texts as programs read them; what no program writes is refused."""

from __future__ import annotations

import html
import re
from collections.abc import Sequence
from typing import Any, overload
from xml.etree.ElementTree import Element

from builder.engine.exchange.cellvalues import MAIN, double
from builder.engine.spec.model import ErrorValue

KINDS = ("n", "s", "str", "inlineStr", "b", "e")
SPACES = tuple(f"{{{name}}}" for name in MAIN)
_DECLARED = (
    rb'(?:\xef\xbb\xbf)?(?:<\?xml version="1\.0" encoding="(?:UTF|utf)-8"(?: standalone="(?:yes|no)")?\?>)?[ \t\r\n]*'
)
_COUNTS = rb'(?: count="[0-9]+" uniqueCount="[0-9]+"| uniqueCount="[0-9]+" count="[0-9]+")?'
_HEAD = re.compile(_DECLARED + b'<sst xmlns="' + re.escape(MAIN[0]).encode() + b'"' + _COUNTS + rb">[ \t\r\n]*")
_TAIL = re.compile(rb"[ \t\r\n]*</sst>[ \t\r\n]*")
_ITEM = re.compile(rb'<si>[ \t\r\n]*+<t(?: xml:space="preserve")?+>([^<>]*+)</t>[ \t\r\n]*+</si>')
_CONTROL = bytes(set(range(32)) - set(b"\t\r\n"))
_NO_LETTERS = (b"\xef\xbf\xbe", b"\xef\xbf\xbf")  # the two that XML forbids, in UTF-8; both begin as few do
_ENTITY = re.compile(rb"&(?:lt|gt|amp|quot|apos|#9|#10|#13);")


class BrokenSheet(ValueError):
    """A worksheet that no spreadsheet program would have written."""


def local(tag: str) -> str:
    """A tag without its namespace."""
    return tag.rpartition("}")[2]


def value_of(kind: str, held: str | None, texts: Sequence[str], address: str) -> Any:
    """A stored value: float, text, ErrorValue, True or False; None for empty. Raises BrokenSheet."""
    if held is None or held == "":
        return None
    if kind == "s":
        if not held.isascii() or not held.isdigit() or int(held) >= len(texts):
            raise BrokenSheet(f"{address} names a text that is not there")
        return texts[int(held)] or None
    if kind == "n":
        try:
            return double(held)
        except ValueError:
            raise BrokenSheet(f"{address} holds no number") from None
    if kind == "b":
        if held not in ("0", "1"):
            raise BrokenSheet(f"{address} holds neither true nor false")
        return held == "1"
    if kind not in KINDS:
        raise BrokenSheet(f"{address} is of a kind that is none")
    return ErrorValue(held) if kind == "e" else held


class RunsText(str):
    """A text of which some letters have a look of their own: `runs` has each such look as the file has it."""

    runs: tuple[Element, ...] = ()


def rich_text(element: Element) -> str:
    """The letters of a text, without the reading aids that some languages have. Raises BrokenSheet."""
    found: list[Element] = []
    looks: list[Element] = []
    for child in element:
        name = own_name(child)
        if name == "r":
            found += [part for part in child if own_name(part) == "t"]
            looks += [part for part in child if own_name(part) == "rPr"]
        elif name == "t":
            if found:
                raise BrokenSheet("a text is there twice")
            found.append(child)
    if any(len(part) for part in found):
        raise BrokenSheet("something stands within a text")
    letters = "".join(part.text or "" for part in found)
    if looks:
        letters = RunsText(letters)
        letters.runs = tuple(looks)
    return letters


def own_name(element: Element) -> str:
    """The name of an element of the format's own; what is of another namespace has none."""
    name = local(element.tag)
    return name if element.tag.removesuffix(name) in SPACES else ""


def tree_texts(root: Element) -> list[str]:
    """The texts that cells share, of a part in any way of writing. Raises BrokenSheet."""
    if own_name(root) != "sst" or any(own_name(item) not in ("si", "extLst") for item in root):
        raise BrokenSheet("something that is no text stands among the shared texts")
    return [rich_text(item) for item in root if own_name(item) == "si"]


class PlainTexts(Sequence[str]):
    """The texts that cells share, as they stand in the file until one is asked for."""

    def __init__(self, written: list[bytes]) -> None:
        self._written = written

    def __len__(self) -> int:
        return len(self._written)

    def written(self, at: bytes) -> bytes | None:
        """A text as it stands in the file, by its number as it stands there; None when there is none."""
        return self._written[int(at)] if at.isdigit() and int(at) < len(self._written) else None

    def all_written(self, kinds: Sequence[bytes | None], held: Sequence[bytes | None]) -> list[bytes | None]:
        """What cells hold, as it stands in the file, wherever their texts stand. Raises IndexError, ValueError."""
        texts = self._written
        return [
            texts[int(one)] if kind == b"s" and one and one.isdigit() else one
            for kind, one in zip(kinds, held, strict=True)
        ]

    @overload
    def __getitem__(self, at: int) -> str: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[str]: ...
    def __getitem__(self, at: int | slice) -> str | Sequence[str]:
        if isinstance(at, slice):
            return PlainTexts(self._written[at])
        return letters(self._written[at].decode())


def plain_texts(data: bytes) -> Sequence[str] | None:
    """The texts that cells share, of a part that holds nothing else; None when it is written in another way."""
    pieces = _ITEM.split(data)
    gaps = pieces[::2]
    whole = _HEAD.fullmatch(gaps[0]) and _TAIL.fullmatch(gaps[-1]) and not b"".join(gaps[1:-1]).strip(b" \t\r\n")
    return PlainTexts(pieces[1::2]) if whole and sound(data) else None


def sound(texts: bytes) -> bool:
    """Whether texts as they stand in a file are well-formed: UTF-8, no forbidden letters, no unknown entities."""
    try:
        texts.decode()
    except UnicodeDecodeError:
        return False
    if b"\xef" in texts and any(letter in texts for letter in _NO_LETTERS):
        return False
    if len(texts.translate(None, _CONTROL)) < len(texts):
        return False
    marks = texts.count(b"&")
    return not marks or marks == len(_ENTITY.findall(texts))


def letters(text: str) -> str:
    """The letters of a text as it stands in the file."""
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return html.unescape(text) if "&" in text else text
