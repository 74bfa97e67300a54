"""What stands around the cells: sheets, protection, hidden lines and columns, names, pictures, how it calculates."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from builder.engine.addresses import COLUMNS, letters
from builder.engine.audit.book import BookView, DefinedName
from builder.engine.audit.finding import Finding, finding
from builder.engine.audit.formulas import meaning, same_formula
from builder.engine.audit.hidden import compare_hidden
from builder.engine.audit.settings import compare_settings, compare_window, panes_lost
from builder.engine.audit.sheet import SheetView, is_on, number
from builder.engine.audit.styles import Styles

CLOSED = ("formatCells", "insertColumns", "insertRows", "insertHyperlinks", "deleteColumns", "deleteRows")
OPEN = ("objects", "scenarios", "selectUnlockedCells")  # what a lock forbids: default on, default off
PRINTING = {"_xlnm.Print_Area": "print_area", "_xlnm.Print_Titles": "print_titles"}
OWN_NAMES = ("_xlnm.Sheet_Title", "_xlnm._FilterDatabase")  # that programs add by themselves
_AREAS = re.compile(r"(?:'(?:[^']|'')*'|[^,])+")
_CODES = re.compile(r'&(?:[LCRBIUESXY]|\d+|"[^"]*"|K[0-9A-F]{6})')


def compare_structure(built: BookView | None, found: BookView) -> Iterator[Finding]:
    """Everything of two workbooks but their cells, rules and results.

    Without a built one, as for an older edition: only what no edition has, such as hidden lines.
    """
    if built is not None:
        yield from _sheets(built, found)
        yield from _names(built, found)
        lost = [t for t in found.sheets if t in built.sheets and panes_lost(built.sheets[t], found.sheets[t])]
        if lost:
            yield finding("panes_lost", lost[0], "", "", None, len(lost))
    yield from _calculation(found)
    yield from compare_window(found.settings, found.windows)
    for title, sheet in found.sheets.items():
        if sheet.state != "visible":
            yield finding("sheet_hidden", title, "", "", "visible", sheet.state)
        if built is not None and title not in built.sheets:
            continue
        yield from structure_of_sheet(built.sheets[title] if built is not None else None, sheet, found.styles)


def structure_of_sheet(was: SheetView | None, now: SheetView, styles: Styles) -> list[Finding]:
    """What stands around the cells of one sheet; `was` is None for an older edition."""
    before = now if was is None else was
    return [
        *_protection(before, now),
        *compare_hidden(was, now),
        *_unlocked_bands(now, styles),
        *compare_settings(before, now),
        *_surroundings(before, now),
    ]


def _sheets(built: BookView, found: BookView) -> Iterator[Finding]:
    """Missing sheets are told with their formulas; here the others."""
    for title in found.sheets:
        if title not in built.sheets:
            yield finding("sheet_extra", title)
    kept = [title for title in found.sheets if title in built.sheets]
    if kept != [title for title in built.sheets if title in found.sheets]:
        yield finding("moved", what="moved")
    if not is_on(found.settings.get("workbookProtection", {}), "lockStructure"):
        yield finding("structure_unlocked")


def _plain(names: tuple[DefinedName, ...]) -> dict[tuple[str, str], str]:
    plain = {}
    for name, sheet, content in names:
        known = "_xlnm." + name if "_xlnm." + name in PRINTING else name
        plain[known, sheet] = content
    return plain


def _names(built: BookView, found: BookView) -> Iterator[Finding]:
    was, now = _plain(built.names), _plain(found.names)
    for (name, sheet), content in now.items():
        if (name, sheet) in was:
            if content == f'ERROR("{was[name, sheet]}")':
                yield finding("titles_lost", sheet)
            elif not _same_areas(was[name, sheet], content):
                yield finding("print", sheet, "", name, was[name, sheet], content, PRINTING.get(name, "print_area"))
        elif name not in OWN_NAMES and sheet in {"", *built.sheets}:
            yield finding("name", sheet, "", name, None, content)
    for (name, sheet), content in was.items():
        if (name, sheet) not in now and sheet in found.sheets:
            yield finding("print", sheet, "", name, content, None, PRINTING.get(name, "print_area"))


def _same_areas(one: str, other: str) -> bool:
    """Whether a name stands for the same areas, in any order: lines and columns that are repeated are two."""
    before, after = (sorted("".join(meaning(area)) for area in _AREAS.findall(text)) for text in (one, other))
    return before == after or same_formula(one, other)


def _calculation(found: BookView) -> Iterator[Finding]:
    settings = found.settings.get("calcPr", {})
    if settings.get("calcMode", "auto") != "auto":
        yield finding("calculation", expected="auto", found=settings["calcMode"], what="calculation_manual")
    if not is_on(settings, "fullPrecision", True):
        yield finding("calculation", what="calculation_rounded")
    if is_on(settings, "iterate"):
        yield finding("circles")
    yield from other_days(found.settings)


def other_days(settings: Mapping[str, Mapping[str, str]]) -> Iterator[Finding]:
    """Whether every date of a workbook is shown as another, because its days are counted from another one."""
    if is_on(settings.get("workbookPr", {}), "date1904"):
        yield finding("calculation", what="calculation_dates")


def _protection(was: SheetView, now: SheetView) -> Iterator[Finding]:
    before, after = was.part("sheetProtection"), now.part("sheetProtection")
    if not is_on(after, "sheet"):
        yield finding("protection", now.title)
        return
    weaker = [name for name in CLOSED if is_on(before, name, True) and not is_on(after, name, True)]
    weaker += [name for name in OPEN[:2] if is_on(before, name) and not is_on(after, name)]
    weaker += [name for name in OPEN[2:] if is_on(after, name) and not is_on(before, name)]
    weaker += ["protectedRanges"] if "protectedRanges" in now.parts else []
    if weaker:
        yield finding("protection", now.title, found=", ".join(weaker), what="protection_weaker")
    if any(after.get(name) for name in ("password", "hashValue")):
        yield finding("password", now.title)


def _unlocked_bands(sheet: SheetView, styles: Styles) -> Iterator[Finding]:
    """Whole lines or columns whose empty cells are unlocked."""
    lines = [line for line, sizes in sheet.lines.items() if not styles.look(int(number(sizes, "s", 0))).locked]
    columns = [c for c in sheet.columns if not styles.look(int(number(c, "style", 0))).locked]
    if lines:
        yield finding("lock", sheet.title, str(lines[0]), "", True, False, "unlocked_lines")
    if columns:
        letter = letters(min(max(1, int(number(columns[0], "min", 1))), COLUMNS))
        yield finding("lock", sheet.title, letter, "", True, False, "unlocked_columns")


def _surroundings(was: SheetView, now: SheetView) -> Iterator[Finding]:
    """Merged cells, filters, links within the file, pictures, footers."""
    for merged in now.parts.get("mergeCells", []):
        for area in merged:
            yield finding("merged", now.title, area.get("ref", ""))
    for name in ("autoFilter", "tableParts", "oleObjects", "controls", "legacyDrawing", "picture"):
        if name in now.parts and len(now.parts[name][0].attrib) + len(now.parts[name][0]):
            yield finding("added", now.title, "", "", None, name)
    before, after = _links(was), _links(now)
    for cell, target in after.items():
        if cell not in before or not same_formula(before[cell], target):
            yield finding("link", now.title, cell, "", before.get(cell), target)
    if _footer(was) != _footer(now):
        yield finding("page", now.title, "", "", _footer(was), _footer(now))


def _links(sheet: SheetView) -> dict[str, str]:
    return {
        link.get("ref", ""): link.get("location", "") for part in sheet.parts.get("hyperlinks", []) for link in part
    }


def _footer(sheet: SheetView) -> str:
    """The words that are printed on each page, without the marks of their place and type."""
    texts = [child.text or "" for part in sheet.parts.get("headerFooter", []) for child in part]
    return " ".join(_CODES.sub(" ", "".join(texts)).split())
