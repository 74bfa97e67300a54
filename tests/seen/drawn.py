"""Draws one change of a workbook's XML: a byte, an attribute, an element or a part."""

from __future__ import annotations

import random
import re

from tests.support.hostile import Parts

ATTRIBUTE = re.compile(rb' ([A-Za-z:]+)="([^"]*)"')
ELEMENT = re.compile(rb"<([A-Za-z:]+)(?: [^<>]*)?/>|<([A-Za-z:]+)(?: [^<>]*)?>[^<>]*</\2>")
SILENT = re.compile(r"docProps/")  # what no page shows
KINDS = ("byte", "attribute", "element", "part")


def draw(good: Parts, chance: random.Random) -> tuple[str, Parts]:
    """What was changed, in words, and the changed parts; the parts of small and large size come alike often."""
    kind = chance.choice(KINDS)
    name = chance.choice([part for part in sorted(good) if not SILENT.match(part)])
    data = good[name]
    if kind == "part":
        return f"{name} taken away", {part: held for part, held in good.items() if part != name}
    if kind == "byte":
        at = chance.randrange(len(data))
        new = bytes([chance.choice(b'0123456789.-<>ab "')])
        return f"{name} byte {at}: {data[at : at + 1]!r} to {new!r}", good | {name: data[:at] + new + data[at + 1 :]}
    found = list((ATTRIBUTE if kind == "attribute" else ELEMENT).finditer(data))
    if not found:
        return f"{name} taken away", {part: held for part, held in good.items() if part != name}
    one = chance.choice(found)
    new = b""
    if kind == "attribute" and chance.random() < 0.7:
        new = b' %s="%s"' % (one[1], chance.choice(found)[2])
    elif kind == "element" and chance.random() < 0.5:
        new = chance.choice(found)[0]
    return f"{name} {one[0][:60]!r} to {new[:60]!r}", good | {name: data[: one.start()] + new + data[one.end() :]}
