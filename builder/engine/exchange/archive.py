"""Unpacks a zip file of which all readers see the same: by its list at the end, by its heads, or from front to back.

The places of the format: APPNOTE.TXT, sections 4.3.7 (head of a part), 4.3.9 (sizes after it), 4.3.12 (list), 4.3.16
(end of the list), 4.5 (extra fields).
"""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Iterator, Sequence

import numpy as np

from builder.engine.exchange.refused import Refused

# Some ten times what our first, some twice what our largest workbook needs, saved by any program.
LARGEST_UNPACKED = 60_000_000  # bytes, all parts together
MOST_MARKS = 2_000_000  # "<" in all parts together: what an element costs in memory is what fills it
MOST_PARTS = 400
MOST_SQUEEZED = 200  # unpacked bytes for each packed one; the tightest part that any program saves of ours has 76
SMALL_PART = 100_000  # bytes unpacked, below which squeezing is no danger

_HEAD = struct.Struct("<4s5H3L2H")
_MARK = ord("<")
_LISTED, _END = 46, 22  # bytes of a line of the list and of its end, without names
_SIZES = (12, 16, 20, 24)  # bytes of the sizes after a part: with or without a mark, short or long
_LATER, _LOCKED = 8, 1  # flags: the sizes follow the part; encrypted
_LONG = 0xFFFFFFFF
_LONG_SIZES, _OTHER_NAMES = 0x0001, (0x7075, 0x6375)  # extra fields: long sizes; a name and a comment in Unicode


def unpack(name: str, packed: bytes) -> dict[str, bytes]:
    """The parts of a zip file. Raises Refused; nothing is unpacked before its sizes have been looked at."""
    try:
        with zipfile.ZipFile(io.BytesIO(packed)) as archive:
            listed, begin, comment = archive.infolist(), archive.start_dir, archive.comment
        _judge_sizes(name, listed)
        _judge_heads(name, packed, listed, begin, bool(comment))
        parts = {part.filename: _content(name, packed, part) for part in listed if not part.is_dir()}
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError) as error:
        raise Refused("cut", name, error) from None
    except struct.error as error:
        raise Refused("cut", name, error) from None
    if sum(map(_marks, parts.values())) > MOST_MARKS:
        raise Refused("swollen", name, limit=f"{MOST_MARKS / 1e6:.0f} million marks")
    return parts


def _marks(data: bytes) -> int:
    return int(np.count_nonzero(np.frombuffer(data, np.uint8) == _MARK))


def _judge_sizes(name: str, listed: Sequence[zipfile.ZipInfo]) -> None:
    if len(listed) > MOST_PARTS:
        raise Refused("many_parts", name, f"{len(listed):,}", MOST_PARTS)
    seen: set[str] = set()
    total = 0
    for part in listed:
        title = part.filename
        if part.flag_bits & _LOCKED:
            raise Refused("locked", name)
        if part.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) or not title.isprintable():
            raise Refused("odd_part", name, ascii(title))
        if title.casefold() in seen:
            raise Refused("twice", name, title)
        seen.add(title.casefold())
        total += part.file_size
        if part.file_size > max(SMALL_PART, MOST_SQUEEZED * part.compress_size):
            raise Refused("squeezed", name, title, MOST_SQUEEZED)
        if total > LARGEST_UNPACKED:
            raise Refused("swollen", name, limit=f"{LARGEST_UNPACKED / 1e6:.0f} MB")


def _judge_heads(name: str, packed: bytes, listed: Sequence[zipfile.ZipInfo], begin: int, comment: bool) -> None:
    """Parts lie side by side from the first byte to the list, each with a head that says what the list says."""
    at = 0
    for part in sorted(listed, key=lambda part: part.header_offset):
        sign, _, flags, method, _, _, check, small, large, letters, more = _HEAD.unpack_from(packed, at)
        start = at + _HEAD.size + letters + more
        held = packed[at + _HEAD.size : start]
        extra = dict(_fields(held[letters:]))
        if _LONG in (small, large) and _LONG_SIZES in extra:
            large, small = struct.unpack_from("<QQ", extra[_LONG_SIZES])
        told, later = (check, small, large), bool(flags & _LATER)
        wanted = (part.CRC, part.compress_size, part.file_size)
        same = told == wanted or (later and told in ((0, 0, 0), (0, *wanted[1:])))
        same &= part.header_offset == at and sign == b"PK\x03\x04" and (flags, method) == _kept(part)
        same &= held[:letters] == part.orig_filename.encode("ascii", "replace")
        if not same or part.comment or {*extra, *dict(_fields(part.extra))} & {*_OTHER_NAMES}:
            raise Refused("odd_part", name, ascii(part.filename))
        at = start + part.compress_size
        if later:
            at += _later_sizes(name, packed, at, part)
    size = sum(_LISTED + len(part.orig_filename) + len(part.extra) + len(part.comment) for part in listed)
    long_end = 76 if packed[at + size : at + size + 4] == b"PK\x06\x06" else 0
    if at != begin or at + size + long_end + _END != len(packed) or comment:
        raise Refused("odd_part", name, "something beside its parts")


def _kept(part: zipfile.ZipInfo) -> tuple[int, int]:
    return part.flag_bits, part.compress_type


def _later_sizes(name: str, packed: bytes, at: int, part: zipfile.ZipInfo) -> int:
    """How many bytes hold the sizes after a part. Raises Refused where they say something else than the list."""
    for length in _SIZES:
        held = packed[at : at + length]
        mark = held[:4] == b"PK\x07\x08" and length in (16, 24)
        numbers = struct.Struct("<LLL" if length < 20 else "<LQQ")
        whole = mark is (length in (16, 24)) and len(held) == length
        if whole and numbers.unpack(held[4 * mark :]) == (part.CRC, part.compress_size, part.file_size):
            return length
    raise Refused("odd_part", name, ascii(part.filename))


def _fields(extra: bytes) -> Iterator[tuple[int, bytes]]:
    """The extra fields of a head, by their numbers."""
    while extra:
        kind, length = struct.unpack_from("<HH", extra)
        yield kind, extra[4 : 4 + length]
        extra = extra[4 + length :]


def _content(name: str, packed: bytes, part: zipfile.ZipInfo) -> bytes:
    """What a part holds: exactly as much as the list says. Raises Refused, zlib.error."""
    letters, more = struct.unpack_from("<2H", packed, part.header_offset + 26)
    start = part.header_offset + _HEAD.size + letters + more
    data = packed[start : start + part.compress_size]
    if part.compress_type == zipfile.ZIP_DEFLATED:
        packer = zlib.decompressobj(-15)
        data = packer.decompress(data, part.file_size + 1)
        if not packer.eof or packer.unused_data:
            raise Refused("cut", name, part.filename)
    if len(data) != part.file_size or zlib.crc32(data) != part.CRC:
        raise Refused("cut", name, part.filename)
    return data
