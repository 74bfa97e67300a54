"""A sheet as it is written: all its bytes but the kind and the stored value of each cell, and those apart."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from typing import Any, NamedTuple

from builder.engine.audit.stored import BrokenSheet, PlainTexts, letters, value_of

SPACE = rb"[ \t\r\n]*+"
_CELL = re.compile(
    rb'(<c r="[A-Z]++[0-9]++"(?: s="[0-9]++")?+)(?: t="(s(?:tr)?+|[nbe]|inlineStr)")?+(?:/>|>'
    + rb"_(<f(?:>| [^<>]*+>)[^<>]*+</f>|<f [^<>]*/>)?_"
    rb'(?:<v>([^<>]*+)</v>|<v/>|<is>_<t(?: xml:space="preserve")?>([^<>]*+)</t>_</is>)?_</c>)'.replace(b"_", SPACE)
)
_GROUPS = 5
_APART = b"<>"  # stands in no well-formed sheet

Contents = tuple[Sequence[bytes | None], Sequence[bytes | None]]  # kinds of cells, and what they hold


class Written(NamedTuple):
    """A sheet as it is written: a digest of its structure; kind, value and own text of each of its cells in order.

    `gaps` is what stands between the cells, `heads` how each begins, as <c r="A1" s="5".
    """

    structure: bytes
    gaps: Sequence[bytes]
    heads: Sequence[bytes]
    kinds: Sequence[bytes | None]
    held: Sequence[bytes | None]
    inline: Sequence[bytes | None]

    def value(self, number: int, address: str, texts: Sequence[str]) -> Any:
        """The stored value of a cell. Raises BrokenSheet."""
        kind, held, inline = self.kinds[number] or b"n", self.held[number], self.inline[number]
        if (kind == b"inlineStr") != (inline is not None):
            raise BrokenSheet(f"{address} holds nothing of its kind")
        if inline is not None:
            return letters(inline.decode()) or None
        return value_of(kind.decode(), letters((held or b"").decode()), texts, address)

    def content(self, number: int, texts: Sequence[str]) -> tuple[int, bytes, bytes] | None:
        """A constant as it is written, wherever its text stands; None when it is written in a rare way."""
        kind, held = self.kinds[number] or b"n", self.held[number]
        if kind == b"s" and held and isinstance(texts, PlainTexts):
            held = texts.written(held)
        return None if held is None else (number, kind, held)

    def contents(self, numbers: Sequence[int], texts: Sequence[str]) -> Contents | None:
        """As content, of many cells; None when one is written in a rare way."""
        kinds, held = [self.kinds[n] for n in numbers], [self.held[n] for n in numbers]
        if not isinstance(texts, PlainTexts):
            return None
        try:
            found = texts.all_written(kinds, held)
        except (IndexError, ValueError):
            return None
        return None if None in found else (kinds, found)


def written(data: bytes) -> Written:
    """A sheet's part taken apart, cell by cell."""
    pieces = _CELL.split(data)
    gaps, heads, kinds, formulas, held, inline = (pieces[n :: _GROUPS + 1] for n in range(_GROUPS + 1))
    parts = (gaps, heads, [formula or b"" for formula in formulas])
    return Written(digest(len(heads), *parts), gaps, heads, kinds, held, inline)


def structure_of(data: bytes) -> bytes:
    """A digest of all bytes of a sheet's part but the kind and the stored value of each cell."""
    return written(data).structure


def digest(cells: int, *parts: Sequence[bytes]) -> bytes:
    """What two sheets have in common that differ in nothing but kinds and values."""
    all_of_it = hashlib.sha256(b"%d" % cells)
    for part in parts:
        all_of_it.update(hashlib.sha256(_APART.join(part)).digest())
    return all_of_it.digest()
