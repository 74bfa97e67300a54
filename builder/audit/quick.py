"""The quick answer that a file's formulas and constants are those of the edition, by reading its bytes without a tree.

It speaks only of sheets written as Excel, LibreOffice, Gnumeric and this builder write them: every cell begins with its
address, no comments, no prefixes, no shared formulas. Everything else, and every difference, is left to the slow way.
What is broken as XML is not seen here; a program would not open it either.
"""

from __future__ import annotations

import html
import re
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from builder.audit.expected import Plan, Planned
from builder.audit.formulas import same_formula, same_value
from builder.exchange.untrusted import Package

_CELL = rb'<c r="([A-Z]+[0-9]+)"'
_COMPUTED = re.compile(_CELL + rb"[^<>]*>\s*<f[^<>]*>([^<>]*)</f>")
_FIXED = re.compile(_CELL + rb"([^<>]*)>\s*(?:<v>([^<>]*)</v>|<is>\s*<t[^<>]*>([^<>]*)</t>\s*</is>)\s*</c>")
_OTHER_FORM = re.compile(rb"<f[^<>]*\st=")
_NUMBER = re.compile(rb' s="[0-9]+"(?: t="n")?')
_TEXT = re.compile(rb' s="[0-9]+" t="s"')
_INLINE = re.compile(rb' s="[0-9]+" t="inlineStr"')
_LETTERS = re.compile(rb"\s*<t(?: [^<>]*)?>([^<>]*)</t>\s*</si>.*", re.DOTALL)
NOTHING: Mapping[str, Planned] = {}
_SPACE = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_SEEN: dict[int, tuple[Mapping[str, Planned], set[tuple[bytes, bytes]]]] = {}  # keeps the plan, so its id stays its own
_HEAD, _TAIL = b"<sheetData>", b"</sheetData>"


def surely_unchanged(package: Package, plan: Plan) -> bool:
    """True when every formula and constant of the plan stands in the file and no other formula does; else unknown."""
    parts = dict(package.sheets)
    if not plan.keys() <= parts.keys():
        return False
    texts = package.parts.get("xl/sharedStrings.xml", b"").split(b"<si>")[1:]
    return all(_unchanged(package.parts[part], plan.get(title, NOTHING), texts) for title, part in parts.items())


def _unchanged(data: bytes, plan: Mapping[str, Planned], texts: Sequence[bytes]) -> bool:
    head, _, rest = data.partition(_HEAD)
    cells, _, tail = rest.partition(_TAIL)
    plain = head.count(_SPACE) == 1 and b'xmlns="' + _SPACE in head and not (b"<c " in head or b"<c " in tail)
    if not plain or _HEAD in tail or any(mark in cells for mark in (b"<!", b"<?", b"xmlns")):
        return False
    computed, fixed = _COMPUTED.findall(cells), _FIXED.findall(cells)
    if len(computed) != cells.count(b"<f") or _OTHER_FORM.search(cells):
        return False
    if len(computed) + len(fixed) != cells.count(b"</c>"):
        return False
    formulas, held = set(computed), {address: tuple(content) for address, *content in fixed}
    accepted = _accepted(plan)
    for address, formula in formulas - accepted:
        planned = plan.get(address.decode())
        if planned is None or planned.kind != "formula" or not _same(planned.content, formula):
            return False
        accepted.add((address, formula))
    if len(formulas) != len(computed) or len({address for address, _ in computed}) != len(computed):
        return False
    wanted = {address: planned for address, planned in plan.items() if planned.kind == "constant"}
    return (
        len(held) == len(fixed)
        and len(formulas) == sum(planned.kind == "formula" for planned in plan.values())
        and all(same_value(planned.content, _value(held.get(a.encode()), texts)) for a, planned in wanted.items())
    )


def held_values(package: Package, wanted: Mapping[str, Collection[str]]) -> dict[tuple[str, str], Any] | None:
    """The numbers and texts in some cells, by title and address, of a file that is surely unchanged.

    None when one is kept in another way: an error value, a logical value, a text in several looks.
    """
    texts = package.parts.get("xl/sharedStrings.xml", b"").split(b"<si>")[1:]
    values: dict[tuple[str, str], Any] = {}
    for title, part in package.sheets:
        if title not in wanted:
            continue
        held = {address.decode(): content for address, *content in _FIXED.findall(package.parts[part])}
        for address in held.keys() & wanted[title]:
            value = _value(tuple(held[address]), texts)
            if value is None:
                return None
            values[title, address] = value if value != "" else None
    return values


def _accepted(plan: Mapping[str, Planned]) -> set[tuple[bytes, bytes]]:
    """Cells of a sheet with formulas, as programs write them, that were seen to be those of the plan."""
    return _SEEN.setdefault(id(plan), (plan, set()))[1]


def _same(planned: str, written: bytes) -> bool:
    return same_formula(planned, html.unescape(written.decode("utf-8", "replace")))


def _value(held: tuple[bytes, ...] | None, texts: Sequence[bytes]) -> float | str | None:
    """A number or a text, of cells that are kept in the usual way."""
    if held is None:
        return None
    look, content, letters_here = held
    try:
        if _INLINE.fullmatch(look):
            return html.unescape(letters_here.decode())
        if _TEXT.fullmatch(look) and content.isdigit():
            letters = _LETTERS.fullmatch(texts[int(content)])
            return html.unescape(letters[1].decode()) if letters else None
        return float(content) if _NUMBER.fullmatch(look) else None
    except (ValueError, IndexError):
        return None
