"""The pictures on each sheet: where they stand and what they are. Ours are charts and nothing else."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from builder.engine.audit.charts import Chart, odd_names, read_chart
from builder.engine.audit.drawing_marks import child
from builder.engine.audit.hidden import heights, widths
from builder.engine.audit.sheet import SheetView
from builder.engine.audit.sheets import part_tree
from builder.engine.audit.stored import BrokenSheet, local
from builder.engine.exchange.relations import related
from builder.engine.exchange.untrusted import Package

ANCHORS = ("oneCellAnchor", "twoCellAnchor", "absoluteAnchor")
POINT = 12700  # EMU
FURTHEST = 200  # columns; and five times as many lines: our charts stand far within
SPACES = (
    *("http://schemas.openxmlformats.org/", "http://purl.oclc.org/ooxml/", "http://schemas.microsoft.com/office/"),
    "http://www.gnumeric.org/",
)
KNOWN = tuple("{" + space for space in SPACES)
# Elements of which there may be several side by side; of two others, programs would take one or the other.
SEVERAL = frozenset(
    ["ser", "dPt", "axId", "valAx", "catAx", "dLbl", "pt", "p", "r", "ext", "Choice", "lvl", "gd", "ds"]
) | {*ANCHORS}
CHARTS = frozenset(
    f"http://{space}/chart" for space in ("schemas.openxmlformats.org/drawingml/2006", "purl.oclc.org/ooxml/drawingml")
)
EXTENSIONS = frozenset({"gostyle", "showLeaderLines", "uniqueId", "layout", "compatExt", "creationId"})


Grid = tuple[Sequence[float], Sequence[float]]  # where each column and each line of a sheet begins, in points


@dataclass(frozen=True)
class Picture:
    """One picture: its sheet, its box in points from the sheet's corner, the chart, and why it is none of ours."""

    sheet: str
    box: tuple[float, float, float, float]
    chart: Chart
    odd: str = ""


def read_pictures(package: Package, sheets: Mapping[str, SheetView], trees: Mapping[str, str]) -> tuple[Picture, ...]:
    """All pictures of a file; `trees` has the part of each sheet by its title. Raises Refused, BrokenSheet."""
    found: list[Picture] = []
    for title, sheet in sheets.items():
        for element in sheet.parts.get("drawing", []):
            part = _led(package, trees[title], element, "drawing")
            grid = _starts(widths(sheet, FURTHEST), 5.25), _starts(heights(sheet, 5 * FURTHEST), 1.0)
            found += [_picture(package, part, title, grid, anchor) for anchor in _sound(part_tree(package, part))]
    return tuple(found)


def _led(package: Package, source: str, element: Element, kind: str) -> str:
    """The part to which an element leads. Raises BrokenSheet."""
    relation = package.relations.get(source, {}).get(related(package.name, element))
    if relation is None or relation.kind != kind or relation.part not in package.parts:
        raise BrokenSheet(f"a {kind} leads nowhere")
    return relation.part


def _sound(root: Element) -> Element:
    """A tree in which all programs find the same. Raises BrokenSheet."""
    for element in root.iter():
        if not element.tag.startswith(KNOWN):
            raise BrokenSheet(f"{local(element.tag)[:40]} in a picture is of no known kind")
        for name, count in Counter(inner.tag for inner in element).items() if len(element) > 1 else ():
            if count > 1 and local(name) not in SEVERAL:
                raise BrokenSheet(f"{local(name)} is there twice in a picture")
        if local(element.tag) == "ext" and element.get("uri"):
            odd = {local(inner.tag) for inner in element.iter() if inner is not element} - EXTENSIONS
            if odd:
                raise BrokenSheet(f"{min(odd)} in a picture is of no known kind")
    return root


def _picture(package: Package, part: str, sheet: str, grid: Grid, anchor: Element) -> Picture:
    charts = [e for e in anchor.iter() if local(e.tag) == "chart"]
    inside = {local(e.tag) for e in anchor} - {"from", "to", "ext", "pos", "clientData"}
    box = _box(anchor, grid)
    if local(anchor.tag) not in ANCHORS or inside != {"graphicFrame"} or len(charts) != 1:
        return Picture(sheet, box, Chart(), ", ".join(sorted(inside)) or "nothing")
    root = _sound(part_tree(package, where := _led(package, part, charts[0], "chart")))
    others = {relation.kind for relation in package.relations.get(where, {}).values()}
    odd = {*odd_names(root)} | (others - {"chartStyle", "chartColorStyle"})
    odd |= {"a turned picture"} & {"a turned picture" for e in anchor.iter() if e.get("rot", "0") != "0" or _flipped(e)}
    odd |= {e.get("uri", "nothing") for e in anchor.iter() if local(e.tag) == "graphicData"} - CHARTS
    return Picture(sheet, box, read_chart(root), ", ".join(sorted(odd)))


def _flipped(element: Element) -> bool:
    return any(element.get(side, "0") not in ("0", "false") for side in ("flipH", "flipV"))


def _box(anchor: Element, grid: Grid) -> tuple[float, float, float, float]:
    across, down = grid
    start, end, size = child(anchor, "from"), child(anchor, "to"), child(anchor, "ext")
    left, top = _corner(start, across, down)
    if end is not None:
        right, bottom = _corner(end, across, down)
        return left, top, right - left, bottom - top
    wide, high = (float(size.get(side, "0")) / POINT if size is not None else 0.0 for side in ("cx", "cy"))
    return left, top, wide, high


def _starts(sizes: Sequence[float], unit: float) -> list[float]:
    """Where each line or column begins, in points."""
    found, at = [], 0.0
    for size in sizes:
        found.append(at)
        at += size * unit
    return found


def _corner(element: Element | None, across: Sequence[float], down: Sequence[float]) -> tuple[float, float]:
    told = {local(e.tag): e.text or "0" for e in element} if element is not None else {}
    try:
        column, line = int(told.get("col", "0")), int(told.get("row", "0"))
        more = float(told.get("colOff", "0")) / POINT, float(told.get("rowOff", "0")) / POINT
        return across[column] + more[0], down[line] + more[1]
    except (ValueError, IndexError):
        raise BrokenSheet(f"a picture stands at no place ({told})") from None


def by_key(pictures: Sequence[Picture]) -> dict[tuple[str, tuple[str, ...], int], Picture]:
    """Pictures by sheet, the cells they draw, and a number among those that draw the same."""
    found: dict[tuple[str, tuple[str, ...], int], Picture] = {}
    for picture in pictures:
        number = 0
        while (picture.sheet, picture.chart.key, number) in found:
            number += 1
        found[picture.sheet, picture.chart.key, number] = picture
    return found


def drawn(pictures: Sequence[Picture]) -> Iterator[tuple[str, Mapping[int, str]]]:
    """The cells that charts draw, each with what is stored of them in the chart."""
    for picture in pictures:
        yield from picture.chart.cells
