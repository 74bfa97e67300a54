"""Cells pasted into the XML of a workbook, as a file has them that came back."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from xml.sax.saxutils import escape

from builder.engine.exchange.cellvalues import Value
from builder.engine.spec.model import ErrorValue
from tests.support.many_states import LockedOver, State, TypedFormula


def paste(parts: Mapping[str, bytes], sheets: Sequence[tuple[str, str]], state: State, target: Path) -> None:
    """A copy of a workbook, given by its parts, with these cells typed into its XML. KeyError for a cell it has not."""
    changed = dict(parts)
    for title, part in sheets:
        for (sheet, address), value in state.items():
            if sheet == title:
                cell = re.compile(rf'<c r="{address}"( s="\d+")?[^>]*?(?:/>|>.*?</c>)'.encode(), re.S)
                changed[part], found = cell.subn(lambda hit, v=value: _cell(hit[0], v), changed[part], count=1)
                if not found:
                    raise KeyError(f"{title}!{address} is no cell of the file")
    with zipfile.ZipFile(target, "w") as archive:
        for name, data in changed.items():
            archive.writestr(name, data)


def _cell(old: bytes, value: Value) -> bytes:
    head = re.match(rb'<c r="[A-Z]+\d+"(?: s="\d+")?', old)
    assert head
    if value is None:
        return head[0] + b"/>"
    if isinstance(value, TypedFormula):
        return head[0] + f"><f>{escape(value)}</f></c>".encode()
    if isinstance(value, LockedOver):
        return head[0].partition(b" s=")[0] + f' s="0" t="inlineStr"><is><t>{escape(value)}</t></is></c>'.encode()
    if isinstance(value, bool):
        kind, inner = "b", f"<v>{int(value)}</v>"
    elif isinstance(value, ErrorValue):
        kind, inner = "e", f"<v>{value}</v>"
    elif isinstance(value, str):
        kind, inner = "inlineStr", f'<is><t xml:space="preserve">{escape(value)}</t></is>'
    else:
        kind, inner = "n", f"<v>{value!r}</v>"
    return head[0] + f' t="{kind}">{inner}</c>'.encode()
