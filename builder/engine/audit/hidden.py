"""Lines and columns that cannot be seen, however that was brought about."""

from __future__ import annotations

from collections.abc import Iterator

from builder.engine.addresses import letters
from builder.engine.audit.finding import Finding, finding
from builder.engine.audit.sheet import SheetView, is_on, number

LOWEST_LINE = 4.0  # points: type of 7 points cannot be read in a lower one
NARROWEST = 1.0  # letters
NARROW = 0.8  # of the width or height it was built with: below, a number may show as ###, a sentence lose its end
HIGH = 1.5  # times the height it was built with: beyond, what follows leaves its page
WIDE = 2.5  # times the width it was built with: beyond, what stands beside it is out of sight
LINE, WIDTH = 15.0, 8.43  # of a sheet that does not tell its own


def compare_hidden(was: SheetView | None, now: SheetView) -> Iterator[Finding]:
    """What of the layout's lines and columns can no longer be seen; without a built sheet, of those that hold cells."""
    last_column, last_line = (was or now).ends
    lines = set(_low_lines(now, last_line)) - set(_low_lines(was, last_line) if was else ())
    if lines:
        told = ", ".join(map(str, sorted(lines)))
        yield finding("line_hidden", now.title, str(min(lines)), "", None, told)
    before = widths(was, last_column) if was else [WIDTH] * last_column
    after = widths(now, last_column)
    thin = [n for n, (a, b) in enumerate(zip(before, after, strict=True), start=1) if b < NARROWEST <= a]
    narrow = [n for n, (a, b) in enumerate(zip(before, after, strict=True), start=1) if NARROWEST <= b < NARROW * a]
    for kind, columns in (("column_hidden", thin), ("narrow", narrow if was else [])):
        if columns:
            named = [letters(column) for column in columns]
            yield finding(kind, now.title, named[0], "", None, ", ".join(named))
    if was:
        sizes = list(enumerate(zip(heights(was, last_line), heights(now, last_line), strict=True), start=1))
        low = [line for line, (a, b) in sizes if b < NARROW * a and line not in lines]
        high = [line for line, (a, b) in sizes if b > HIGH * max(a, LINE)]
        for kind, those in (("low", low), ("high", high)):
            if those:
                yield finding(kind, now.title, str(those[0]), "", None, ", ".join(map(str, those)))
        wide = [n for n, (a, b) in enumerate(zip(before, after, strict=True), start=1) if b > WIDE * max(a, WIDTH)]
        if wide:
            named = [letters(column) for column in wide]
            yield finding("wide", now.title, named[0], "", None, ", ".join(named))
    view = next(iter(now.parts.get("sheetViews", [])), None)
    shown = view[0].attrib if view is not None and len(view) else {}
    if not is_on(shown, "showZeros", True):
        yield finding("zeros_hidden", now.title)
    if is_on(shown, "showFormulas"):
        yield finding("view", now.title)


def _low_lines(sheet: SheetView, last: int) -> Iterator[int]:
    """The lines up to the last that are hidden or too low to be read."""
    usual = sheet.part("sheetFormatPr")
    height, gone = number(usual, "defaultRowHeight", LINE), is_on(usual, "zeroHeight")
    for line in range(1, last + 1):
        sizes = sheet.lines.get(line, {})
        if is_on(sizes, "hidden", gone and "ht" not in sizes) or number(sizes, "ht", height) < LOWEST_LINE:
            yield line


def heights(sheet: SheetView, last: int) -> list[float]:
    """The heights of the lines up to the last, in points; 0 of a hidden one."""
    usual = sheet.part("sheetFormatPr")
    height, gone = number(usual, "defaultRowHeight", LINE), is_on(usual, "zeroHeight")
    found = []
    for line in range(1, last + 1):
        sizes = sheet.lines.get(line, {})
        hidden = is_on(sizes, "hidden", gone and "ht" not in sizes)
        found.append(0.0 if hidden else number(sizes, "ht", height))
    return found


def widths(sheet: SheetView, last: int) -> list[float]:
    """The widths of the columns up to the last, in letters; 0 of a hidden one."""
    found = [number(sheet.part("sheetFormatPr"), "defaultColWidth", WIDTH)] * last
    for column in sheet.columns:
        first = max(1, int(number(column, "min", 1)))
        for at in range(first, min(last, int(number(column, "max", first))) + 1):
            hidden = is_on(column, "hidden") or found[at - 1] == 0
            found[at - 1] = 0.0 if hidden else number(column, "width", WIDTH)
    return found
