"""What a sheet and a book say around their cells: each word is known and as built, or says nothing of what is seen."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping
from xml.etree.ElementTree import Element

from builder.engine.audit.finding import Finding, finding
from builder.engine.audit.sheet import SheetView, number
from builder.engine.audit.stored import local

# Elements of a sheet: what each may say that is looked at, with what holds where it says nothing. None: by others.
SHEET: dict[str, dict[str, str] | None] = {
    **dict.fromkeys(("sheetPr", "dimension", "sheetViews", "sheetFormatPr", "sheetProtection", "mergeCells")),
    **dict.fromkeys(("conditionalFormatting", "dataValidations", "hyperlinks", "headerFooter", "drawing", "extLst")),
    **dict.fromkeys(("autoFilter", "tableParts", "oleObjects", "controls", "legacyDrawing", "picture")),
    **dict.fromkeys(("phoneticPr", "ignoredErrors", "sheetCalcPr")),
    "pageSetup": {
        **{"orientation": "portrait", "fitToWidth": "1", "fitToHeight": "1", "pageOrder": "downThenOver"},
        **{"blackAndWhite": "0", "draft": "0", "errors": "displayed", "useFirstPageNumber": "0", "scale": "100"},
    },
    "printOptions": {"headings": "0", "gridLines": "0", "horizontalCentered": "0", "verticalCentered": "0"},
    "pageMargins": {"left": "0.7", "right": "0.7", "top": "0.75", "bottom": "0.75"},
    "rowBreaks": {},
    "colBreaks": {},
}
# Words of those elements that say nothing of what is seen.
SILENT = frozenset(
    [
        "paperSize",
        "copies",
        "horizontalDpi",
        "verticalDpi",
        "cellComments",
        "firstPageNumber",
        "id",
        "usePrinterDefaults",
        "gridLinesSet",
        "header",
        "footer",
        "count",
        "manualBreakCount",
        "paperHeight",
        "paperWidth",
    ]
)
BOOK = frozenset(
    [
        "fileVersion",
        "workbookPr",
        "workbookProtection",
        "bookViews",
        "sheets",
        "definedNames",
        "calcPr",
        "extLst",
        "fileSharing",
        "webPublishing",
        "AlternateContent",
        "revisionPtr",
        "fileRecoveryPr",
    ]
)
VIEW = {"rightToLeft": "0", "showZeros": "1", "showFormulas": "0", "view": "normal", "showRowColHeaders": "1"}
WINDOW = {"visibility": "visible", "showSheetTabs": "1", "minimized": "0"}
EXTENDED = frozenset({"dataValidations", "conditionalFormattings"})  # what the format's extension may keep of a sheet
OF_SCREENS = 0.08  # by which the usual height of lines differs from screen to screen: 14.4, 15, 15.75, 16
NEAR = 0.05  # of an inch: margins that programs keep in other units
_FACES = re.compile(r'&(?:"[^"]*"|K[0-9A-Fa-f+-]{6})')


def compare_settings(was: SheetView, now: SheetView) -> Iterator[Finding]:
    """What stands around the cells of a sheet that both files have."""
    for name, elements in now.parts.items():
        if name not in SHEET:
            yield finding("added", now.title, "", "", None, name)
        elif name == "extLst":
            kept = {local(inner.tag) for element in elements for ext in element for inner in ext}
            for odd in sorted(kept - EXTENDED):
                yield finding("added", now.title, "", "", None, odd)
    for name, known in SHEET.items():
        if known is not None:
            yield from _words(was, now, name, known)
    yield from _usual(was, now)
    yield from _breaks(was, now)
    yield from _view(was, now)
    yield from _whole_page(was, now)


def _words(was: SheetView, now: SheetView, name: str, known: Mapping[str, str]) -> Iterator[Finding]:
    before, after = was.part(name), now.part(name)
    fits = _fits(was) and _fits(now)
    for word in sorted({*known, *(local(w) for w in after)} - SILENT):
        one, other = before.get(word, known.get(word, "")), after.get(word, known.get(word, ""))
        if _same(one, other) or (fits and word == "scale"):
            continue
        yield finding("setting", now.title, "", f"{name} {word}", one, other)


def _usual(was: SheetView, now: SheetView) -> Iterator[Finding]:
    """How high a line is that does not say so itself: where the sheet is silent too, each program takes its own height.

    A program that saved such a file tells its own, and with its lines a picture over them has shrunk.
    """
    name = "defaultRowHeight"
    told = [sheet.part("sheetFormatPr").get(name) for sheet in (was, now)]
    heights = [number(sheet.part("sheetFormatPr"), name, 0) for sheet in (was, now)]
    if told[0] and not math.isclose(*heights, rel_tol=OF_SCREENS):
        yield finding("setting", now.title, "", f"sheetFormatPr {name}", told[0], told[1] or "")


def _same(one: str, other: str) -> bool:
    words = {"true": "1", "false": "0", "on": "1", "off": "0"}
    one, other = words.get(one, one), words.get(other, other)
    try:
        return one == other or math.isclose(float(one), float(other), abs_tol=NEAR)
    except ValueError:
        return False


def _fits(sheet: SheetView) -> bool:
    inner = [e for part in sheet.parts.get("sheetPr", []) for e in part if local(e.tag) == "pageSetUpPr"]
    return any(e.get("fitToPage", "0") in ("1", "true") for e in inner)


def _breaks(was: SheetView, now: SheetView) -> Iterator[Finding]:
    for name in ("rowBreaks", "colBreaks"):
        before, after = ({b.get("id", "") for part in s.parts.get(name, []) for b in part} for s in (was, now))
        if before != after:
            told = (", ".join(sorted(ids, key=lambda i: i.zfill(9))) for ids in (before, after))
            yield finding("setting", now.title, "", name, *told)


def _view(was: SheetView, now: SheetView) -> Iterator[Finding]:
    """How the sheet is shown: its side, its fixed lines and columns; lost ones are noted."""
    views = [list(view) for part in now.parts.get("sheetViews", []) for view in [part]]
    if len(views) > 1 or any(len(view) > 1 for view in views):
        yield finding("setting", now.title, "", "sheetViews", 1, sum(map(len, views)))
    before, after = _shown(was), _shown(now)
    for word, usual in VIEW.items():
        one, other = (v.attrib.get(word, usual) if v is not None else usual for v in (before, after))
        if not _same(one, other) and word not in ("showZeros", "showFormulas"):
            yield finding("setting", now.title, "", word, one, other)
    fixed, there = _pane(before), _pane(after)
    if there and there != fixed:
        yield finding("setting", now.title, "", "pane", " ".join(fixed), " ".join(there))
    start = after.get("topLeftCell", "A1") if after is not None else "A1"
    if there and start != "A1":
        yield finding("setting", now.title, "", "topLeftCell", "A1", start)


def panes_lost(was: SheetView, now: SheetView) -> bool:
    """Whether lines and columns of a sheet no longer stay in sight."""
    return bool(_pane(_shown(was))) and not _pane(_shown(now))


def _shown(sheet: SheetView) -> Element | None:
    return next((view for part in sheet.parts.get("sheetViews", []) for view in part), None)


def _pane(view: Element | None) -> tuple[str, ...]:
    pane = next((e for e in view if local(e.tag) == "pane"), None) if view is not None else None
    if pane is None:
        return ()
    sides = [f"{number(pane.attrib, side, 0):g}" for side in ("xSplit", "ySplit")]
    return (*sides, pane.get("state", "split"))


def _whole_page(was: SheetView, now: SheetView) -> Iterator[Finding]:
    if _fits(was) != _fits(now):
        yield finding("setting", now.title, "", "fitToPage", _fits(was), _fits(now))
    for word in ("differentFirst", "differentOddEven"):
        one, other = (sheet.part("headerFooter").get(word, "0") for sheet in (was, now))
        if not _same(one, other):
            yield finding("setting", now.title, "", word, one, other)
    more = faces(now) - faces(was)
    if more:
        yield finding("setting", now.title, "", "headerFooter", None, " ".join(sorted(more)))
    for word in ("transitionEvaluation", "transitionEntry"):
        if now.part("sheetPr").get(word, "0") in ("1", "true"):
            yield finding("setting", now.title, "", word, "0", "1")


def faces(sheet: SheetView) -> set[str]:
    """The marks of type and colour at the foot of a page."""
    return {mark for part in sheet.parts.get("headerFooter", []) for e in part for mark in _FACES.findall(e.text or "")}


def compare_window(settings: Mapping[str, Mapping[str, str]], views: Iterable[Element]) -> Iterator[Finding]:
    """What a book says of itself that could hide pictures or sheets, or that no program writes for it."""
    for name in sorted(settings.keys() - BOOK):
        yield finding("added", "", "", "", None, name)
    if settings.get("workbookPr", {}).get("showObjects", "all") != "all":
        yield finding("setting", "", "", "showObjects", "all", settings["workbookPr"]["showObjects"])
    for view in views:
        for word, usual in WINDOW.items():
            if not _same(usual, view.get(word, usual)):
                yield finding("setting", "", "", word, usual, view.get(word, ""))
