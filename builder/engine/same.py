"""When two values, or two workbook files, are the same although another processor, program or day wrote them.

Words, formulas, texts, styles and structure are the same letter by letter. Computed numbers are the same within CLOSE,
for linear algebra differs in its last digits from processor to processor. An axis is the same half a turn further on;
a position is not, so only a row that says `kind = "axis"` is folded.
"""

from __future__ import annotations

import math
import re
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from html import unescape
from pathlib import Path
from typing import Any

from builder.engine.addresses import PLAIN

CLOSE = 1.000001e-9  # relative or absolute, of two computed numbers; a tie at nine decimals may fall either way
AXIS_CLOSE = 2e-6  # degrees: axes are rounded to six decimals before they are folded
NOISE = 1e-11  # what is smaller is what arithmetic leaves of 0

UNREADABLE = (OSError, zipfile.BadZipFile, zlib.error, ValueError, NotImplementedError, RuntimeError)
DECIMAL = re.compile(r"(?<=[0-9]),(?=[0-9])")  # a comma between digits; our numbers have none between thousands
CELL = re.compile(rf'<c r="({PLAIN})"([^>]*?)(?:/>|>(.*?)</c>)', re.DOTALL)
CACHE = re.compile(r"<c:f>([^<]*)</c:f><c:(?:num|str)Cache>(.*?)</c:(?:num|str)Cache>", re.DOTALL)
POINT = re.compile(r'<c:pt idx="([0-9]+)"><c:v>([^<]*)</c:v></c:pt>')
TEXT = re.compile(r"<si>(.*?)</si>", re.DOTALL)
ELEMENT = re.compile(r"<([A-Za-z:]+)")


def same(one: Any, other: Any, axis: bool = False) -> bool:
    """Whether two values of a cell mean the same; `axis`: degrees of an axis. Empty is None; 1 is not TRUE."""
    if one == other and type(one) is type(other):
        return True
    if is_number(one) and is_number(other):
        return (axis and axes_apart(one, other) <= AXIS_CLOSE) or close(one, other)
    return bool(one == other) and isinstance(one, bool) is isinstance(other, bool) and (one is None) is (other is None)


def says_the_same(one: Any, other: Any) -> bool:
    """Whether two texts say the same: in an office with a decimal comma, FIXED writes 4,33 for 4.33."""
    if not isinstance(one, str) or not isinstance(other, str):
        return False
    return one == other or DECIMAL.sub(".", one) == DECIMAL.sub(".", other)


def is_number(value: Any) -> bool:
    """TRUE and FALSE are none."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def close(one: float, other: float) -> bool:
    """Two computed numbers that differ by the arithmetic alone."""
    return math.isclose(one, other, rel_tol=CLOSE, abs_tol=CLOSE)


def axes_apart(one: float, other: float) -> float:
    """Degrees between two axes, 0 to 90."""
    return abs((one - other + 90) % 180 - 90)


def differences(old: Path, new: Path) -> list[str]:
    """What differs in two workbook files of ours by meaning, a sentence each with sheet and cell; empty: the same.

    `old` may be any file, even none of ours; `new` is one that was just built.
    """
    try:
        if old.read_bytes() == new.read_bytes():
            return []
        was, now = parts(old), parts(new)
    except UNREADABLE as error:
        return [f"{old.name} cannot be read: {error}"]
    found = [f"{old.name} lacks the part {name}" for name in now if name not in was]
    found += [f"{old.name} has the part {name}, which is not built" for name in was if name not in now]
    titles, texts = sheet_titles(now), (shared_texts(was), shared_texts(now))
    cited = texts[0] != texts[1]  # then sheets that are written alike may show other texts
    for name in now:
        if name not in was or (was[name] == now[name] and not (cited and name in titles)):
            continue
        if name in titles:
            found += _of_sheet(titles[name], was[name], now[name], texts)
        elif name.startswith("xl/charts/"):
            found += _of_chart(name, was[name], now[name])
        elif name == "xl/sharedStrings.xml":
            if not found and sorted(texts[0]) != sorted(texts[1]):
                found.append(f"{name}: other texts are kept, which no cell shows")
        else:
            found.append(_apart(name, was[name], now[name]))
    return list(dict.fromkeys(found))


def parts(path: Path) -> dict[str, str]:
    """The parts of a workbook file, uncompressed."""
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name).decode("utf-8") for name in archive.namelist()}


def sheet_titles(book: Mapping[str, str]) -> dict[str, str]:
    """The tab of each sheet's part; the writer numbers the parts in the order of the tabs."""
    tabs = re.findall(r'<sheet name="([^"]*)"', book.get("xl/workbook.xml", ""))
    return {f"xl/worksheets/sheet{n}.xml": unescape(title) for n, title in enumerate(tabs, start=1)}


def shared_texts(book: Mapping[str, str]) -> list[str]:
    """The texts that cells cite by number, with their runs of type."""
    return TEXT.findall(book.get("xl/sharedStrings.xml", ""))


def _of_sheet(title: str, was: str, now: str, texts: tuple[list[str], list[str]]) -> Iterator[str]:
    before, after = ({cell[1]: cell for cell in CELL.finditer(sheet)} for sheet in (was, now))
    moved = texts[0] != texts[1]
    for address in {**before, **after}:
        one, other = before.get(address), after.get(address)
        if one is None or other is None:
            yield f"{title}!{address} is {'new' if one is None else 'gone'}"
        elif one[0] != other[0] or (moved and 't="s"' in one[2]):
            yield from _of_cell(f"{title}!{address}", _holds(one, texts[0]), _holds(other, texts[1]))
    frame = [CELL.sub("", text) for text in (was, now)]
    if frame[0] != frame[1]:
        yield _apart(title, frame[0], frame[1])


def _holds(cell: re.Match[str], texts: list[str]) -> tuple[str, str, str, str]:
    """Style, type, formula and value of a cell as they are written; a text that is cited is put in."""
    style, kind = (_within(cell[2], rf'\b{name}="([^"]*)"') for name in ("s", "t"))
    formula, value = (_within(cell[3] or "", f"<{name}[^>]*>(.*?)</{name}>") for name in ("f", "v"))
    if kind == "s" and value.isdecimal() and int(value) < len(texts):
        value = texts[int(value)]
    return style, kind, formula, value


def _within(text: str, pattern: str) -> str:
    found = re.search(pattern, text, re.DOTALL)
    return found[1] if found else ""


def _of_cell(where: str, one: tuple[str, ...], other: tuple[str, ...]) -> Iterator[str]:
    for what, was, now in zip(("style", "type", "formula"), one, other, strict=False):
        if was != now:
            yield f"{where}: its {what} was {_said(was)} and is now {_said(now)}"
    if one[:3] == other[:3] and not _same_written(one[3], other[3], one[1] in ("", "n")):
        yield f"{where}: {_said(one[3])} is now {_said(other[3])}"


def _same_written(one: str, other: str, number: bool = True) -> bool:
    try:
        return one == other or (number and close(float(one), float(other)))
    except ValueError:
        return False


def _of_chart(name: str, was: str, now: str) -> Iterator[str]:
    for (area, before), (_, after) in zip(CACHE.findall(was), CACHE.findall(now), strict=False):
        one, other = dict(POINT.findall(before)), dict(POINT.findall(after))
        for at in {**one, **other}:
            if not _same_written(one.get(at, ""), other.get(at, "")):
                value = _said(one.get(at, "")), _said(other.get(at, ""))
                yield f"{name}: point {int(at) + 1} of {unescape(area)} was {value[0]} and is now {value[1]}"
    frame = [POINT.sub("", text) for text in (was, now)]
    if frame[0] != frame[1]:
        yield _apart(name, frame[0], frame[1])


def _apart(name: str, was: str, now: str) -> str:
    """Where two texts part, told by the element that is open there."""
    at = next(
        (n for n, (one, other) in enumerate(zip(was, now, strict=False)) if one != other), min(len(was), len(now))
    )
    opened = ELEMENT.findall(now[:at]) or ["its beginning"]
    start = now.rfind("<", 0, at)
    return (
        f"{name}: differs at {opened[-1]}: {_said(was[start : start + 120])} is now {_said(now[start : start + 120])}"
    )


def _said(text: str) -> str:
    return f"'{text[:80]}{'…' if len(text) > 80 else ''}'" if text else "empty"
