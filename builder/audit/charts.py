"""What the pictures draw: the cells they read and the ends of their axes. Their looks are left to the program."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from builder.audit.finding import Finding, finding
from builder.audit.formulas import meaning
from builder.audit.stored import local

AXIS = ("orientation", "min", "max")


@dataclass(frozen=True)
class Drawn:
    """All charts of a workbook together: how many, the cells that they read, the ends and turns of their axes."""

    charts: int
    cells: Counter[str]
    axes: Counter[str]


def read_charts(roots: Iterator[Element]) -> Drawn:
    """What the charts of a workbook draw; the names that programs store as texts are no cells."""
    charts, cells, axes = 0, Counter[str](), Counter[str]()
    for root in roots:
        charts += 1
        for element in root.iter():
            name, text = local(element.tag), (element.text or "").strip()
            if name == "f" and text and not text.startswith('"'):
                cells["".join(meaning(text))] += 1
            elif name == "scaling":
                ends = {local(child.tag): child.get("val", "") for child in element}
                axes[" ".join(f"{key} {ends[key]}" for key in AXIS if key in ends)] += 1
    return Drawn(charts, cells, axes)


def compare_charts(built: Drawn, found: Drawn) -> Iterator[Finding]:
    """Charts may be lost when a program saves; those that are there draw what they were built to draw."""
    for cells in found.cells - built.cells:
        yield finding("chart", found=cells, what="chart_cells")
    for axis in found.axes - built.axes:
        yield finding("chart", found=axis, what="chart_axis")
    if found.charts < built.charts:
        yield finding("pictures", expected=built.charts, found=found.charts, what="charts_gone")
    elif built.cells - found.cells:
        yield finding("chart", expected=next(iter(built.cells - found.cells)), what="chart_fixed")
