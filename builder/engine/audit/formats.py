"""Number formats as their parts: what a program shows for a number, however it spells the format."""

from __future__ import annotations

import re
from functools import lru_cache

_PIECES = re.compile(
    r'"(?P<quoted>[^"]*)"|\\(?P<escaped>.)|\[\$-[0-9A-Fa-f]{1,4}\]|\[(?P<condition>[^\]]*)\]|_(?P<gap>.)|\*(?P<fill>.)'
    r"|(?P<general>General|Standard)|(?P<mark>[0#?.,%@;/]|[Ee][+-])|(?P<date>[ymdhsYMDHSbBgGeE]+)|(?P<bare>.)",
    re.DOTALL | re.IGNORECASE,
)
_LITERALS = re.compile(r'\\(.)|"([^"]*)"|\[[^\]]*\]|_.|\*.')  # in a number format: letters shown as they are, marks
Tokens = tuple[tuple[str, str], ...]


@lru_cache(maxsize=1024)
def tokens(code: str) -> Tokens:
    """The parts of a number format: letters that are shown as they are, joined; digits and marks; what fills a cell.

    A point between digits is no letter "."; a filling digit is no digit; a language without its own digits is none.
    """
    found: list[tuple[str, str]] = []
    for piece in _PIECES.finditer(code or "General"):
        kind, text = piece.lastgroup, piece.group(piece.lastgroup) if piece.lastgroup else ""
        if kind in ("quoted", "escaped", "bare"):
            if found and found[-1][0] == "letters":
                text = found.pop()[1] + text
            kind = "letters"
        elif kind in ("date", "general"):
            text = text.lower()
        if kind is not None and (text or kind != "letters"):
            found.append((kind, text))
    if found[-2:] == [("mark", ";"), ("mark", "@")]:
        del found[-2:]
    return tuple(found)


GENERAL = tokens("General")


@lru_cache(maxsize=1024)
def hides_number(code: str) -> bool:
    """Whether a number format leaves some values unseen or shows fixed letters in their stead."""
    placeholders = re.sub(_LITERALS, "", code) if code else "General"
    return any(not re.search(r"[0#?@]|General|[ymdhs]", part, re.IGNORECASE) for part in placeholders.split(";"))
