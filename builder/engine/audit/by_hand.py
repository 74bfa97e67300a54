"""Parts that somebody changed by hand in a file that no other program saved.

A program that saves a workbook writes all its sheets anew, all its drawings, all its charts. So where one part of a
kind is to the byte as this edition writes it, values aside, all of that kind are, and one that is not was changed in
between. What a person sees is compared one by one elsewhere; this finds what no program that saves would do.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterator, Mapping

from builder.engine.audit.finding import Finding, finding
from builder.engine.audit.written import structure_of

Prints = Mapping[str, Mapping[str, bytes]]  # of each kind the parts by name, each as a digest of all but its values

_KEPT = re.compile(rb"<c:(numCache|strCache)>.*?</c:\1>", re.DOTALL)  # what a chart keeps of its cells


def _digest(data: bytes) -> bytes:
    return hashlib.sha256(data).digest()


KINDS: Mapping[str, tuple[re.Pattern[str], Callable[[bytes], bytes]]] = {
    "sheets": (re.compile(r"xl/worksheets/[^/]+\.xml"), lambda data: structure_of(data)),
    "drawings": (re.compile(r"xl/drawings/[^/]+\.xml"), _digest),
    "charts": (re.compile(r"xl/charts/[^/]+\.xml"), lambda data: _digest(_KEPT.sub(b"", data))),
}


def prints_of(parts: Mapping[str, bytes]) -> Prints:
    """What the parts of a workbook are known by, kind by kind."""
    return {
        kind: {name: known_by(data) for name, data in parts.items() if pattern.fullmatch(name)}
        for kind, (pattern, known_by) in KINDS.items()
    }


def compare_by_hand(built: Prints, parts: Mapping[str, bytes]) -> Iterator[Finding]:
    """The parts that alone of their kind are not as this edition writes them."""
    found = prints_of(parts)
    for kind, before in built.items():
        now = found[kind]
        if any(now.get(name) == known for name, known in before.items()):
            for name in sorted(now):
                if now[name] != before.get(name):
                    yield finding("by_hand", found=name)
