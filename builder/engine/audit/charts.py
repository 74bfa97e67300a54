"""A chart as what is seen of it: axes, series with their cells, lines and marks, texts; whichever program saved it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from builder.engine.audit.drawing_marks import NOTHING, child, faint, ground, line, text, value
from builder.engine.audit.formats import GENERAL, tokens
from builder.engine.audit.formulas import meaning
from builder.engine.audit.stored import local

KINDS = ("scatterChart", "barChart")
PLAIN = {  # what may stand in each element beside what is looked at: without a word about what is seen
    "chartSpace": "lang roundedCorners printSettings date1904 chart spPr txPr",
    "chart": "title autoTitleDeleted plotArea legend plotVisOnly dispBlanksAs",
    "plotArea": "layout spPr scatterChart barChart valAx catAx",
    "scatterChart": "scatterStyle varyColors ser axId dLbls",
    "barChart": "barDir grouping varyColors gapWidth overlap ser axId dLbls",
    "ser": "idx order tx spPr marker dPt dLbls xVal yVal cat val smooth invertIfNegative",
    "marker": "symbol size spPr",
    "legend": "legendPos layout overlay spPr txPr",
    "axis": "axId scaling delete axPos title numFmt majorTickMark minorTickMark tickLblPos spPr txPr crossAx crosses "
    "crossBetween majorUnit auto lblAlgn lblOffset noMultiLvlLbl majorGridlines "
    "tickLblSkip",
    "scaling": "orientation min max",
}
SWITCHED = {"varyColors": "0", "invertIfNegative": "0", "overlay": "0", "grouping": "clustered"}
SHOWS = ("showVal", "showCatName", "showSerName", "showPercent", "showBubbleSize", "showLegendKey")
ALL_SHOWN = ["showVal", "showCatName", "showSerName", "showLegendKey"]  # how one program saves the first alone
Traits = dict[str, str]


@dataclass
class Chart:
    """What is seen of a chart by name, such as "series 2 colour"; `cells`: what is stored of the cells it draws."""

    traits: Traits = field(default_factory=dict)
    cells: list[tuple[str, Mapping[int, str]]] = field(default_factory=list)

    @property
    def key(self) -> tuple[str, ...]:
        """What it is known by: the cells that it draws."""
        return tuple(said for name, said in self.traits.items() if name.endswith(("cells x", "cells y")))


def read_chart(root: Element) -> Chart:
    """The view of a chart's part."""
    chart = Chart()
    traits = chart.traits
    _odd(traits, root, "chartSpace", "the chart")
    inner = child(root, "chart")
    plot = child(inner, "plotArea")
    if inner is None or plot is None:
        traits["the chart odd"] = "nothing in it"
        return chart
    _odd(traits, inner, "chart", "the chart")
    _odd(traits, plot, "plotArea", "the plot")
    _text(traits, "title", child(inner, "title"))
    for name, area in (("the chart", child(root, "spPr")), ("the plot", child(plot, "spPr"))):
        filled = ground(area)
        if filled not in ("", NOTHING, "ffffff"):
            traits[f"{name} ground"] = filled
    legend = child(inner, "legend")
    if legend is not None:
        _odd(traits, legend, "legend", "the legend")
        traits["the legend"] = value(legend, "legendPos", "r")
    for reason in faint(legend):
        traits["the legend faint"] = reason
    _place(traits, child(plot, "layout", "manualLayout"))
    groups = [group for group in plot if local(group.tag) in KINDS]
    axes = [axis for axis in plot if local(axis.tag) in ("valAx", "catAx")]
    cited = [c.get("val", "") for group in groups for c in group if local(c.tag) == "axId"]
    traits["kinds"] = " ".join(local(group.tag) for group in groups)
    for group in groups:
        _odd(traits, group, local(group.tag), "the series")
        traits["style"] = " ".join((value(group, "scatterStyle", ""), value(group, "barDir", "")))
        several = sorted((s for s in group if local(s.tag) == "ser"), key=lambda s: value(s, "order", "0").zfill(9))
        for number, series in enumerate(several, start=1):
            _series(chart, f"series {number}", series, legend is not None)
    for axis in axes:
        name = value(axis, "axId", "")
        _axis(
            traits, f"axis {cited.index(name) + 1 if name in cited else name}", axis, "barChart" not in traits["kinds"]
        )
    return chart


def _odd(traits: Traits, element: Element, kind: str, name: str) -> None:
    """Names what stands in an element that no program writes of its own for a chart of ours."""
    known = PLAIN[kind].split()
    for inner in element:
        what = local(inner.tag)
        style = what == "AlternateContent" and {local(c.tag) for c in inner.iter()} <= {
            *("AlternateContent", "Choice", "Fallback", "style")
        }
        if what not in known and not (style or what == "extLst" or (what == "layout" and not len(inner))):
            traits[f"{name} has {what}"] = "yes"
        if what in SWITCHED and inner.get("val", "1").replace("false", "0") != SWITCHED[what]:
            traits[f"{name} {what}"] = inner.get("val", "1")


def _text(traits: Traits, name: str, element: Element | None) -> None:
    if element is not None:
        traits[name] = text(child(element, "tx"))
        for reason in faint(element):
            traits[f"{name} faint"] = reason


def _place(traits: Traits, layout: Element | None) -> None:
    if layout is not None:
        traits["place"] = " ".join(f"{float(value(layout, side, '0')):.2f}" for side in "xywh")


def _series(chart: Chart, name: str, series: Element, named: bool) -> None:
    traits = chart.traits
    _odd(traits, series, "ser", name)
    for side, element in (("x", "xVal"), ("y", "yVal"), ("x", "cat"), ("y", "val")):
        data = child(series, element)
        if data is None:
            continue
        cells = text_of_cells(data)
        traits[f"{name} cells {side}"] = "".join(meaning(cells)) if cells else "none"
        points = [p for p in data.iter() if local(p.tag) == "pt"]
        chart.cells.append((cells, {int(p.get("idx", "0")): text(p) for p in points if p.get("idx", "0").isdigit()}))
    if named:
        traits[f"{name} named"] = text(child(series, "tx"))
    colour, width, dash = line(child(series, "spPr"))
    bar = child(series, "val") is not None
    if not bar:
        traits[f"{name} line"] = colour
        traits[f"{name} width"] = f"{width:.2f}"
        traits[f"{name} dash"] = dash if colour != NOTHING else "solid"
    else:
        traits[f"{name} ground"] = ground(child(series, "spPr"))
    marker = child(series, "marker")
    if marker is not None:
        _odd(traits, marker, "marker", f"{name} marks")
    symbol = value(marker, "symbol", "none" if bar else "auto")
    traits[f"{name} marks"] = symbol
    if symbol != "none":
        traits[f"{name} size of marks"] = value(marker, "size", "5")
        traits[f"{name} colour of marks"] = ground(child(marker, "spPr"))
    for point in (inner for inner in series if local(inner.tag) == "dPt"):
        own = child(point, "marker")
        same = value(own, "symbol", symbol) == symbol and ground(child(own, "spPr")) in (
            "",
            ground(child(marker, "spPr")),
        )
        if (
            child(point, "spPr") is not None
            or not same
            or value(own, "size", "5") not in ("5", value(marker, "size", "5"))
        ):
            traits[f"{name} point {value(point, 'idx', '')}"] = "drawn otherwise"
    _labels(traits, name, child(series, "dLbls"))


def text_of_cells(data: Element) -> str:
    """The cells that an axis of a series draws; "" for numbers that are kept in the chart itself."""
    return next((e.text or "" for e in data.iter() if local(e.tag) == "f"), "").strip()


def _labels(traits: Traits, name: str, labels: Element | None) -> None:
    if labels is None or value(labels, "delete", "0") in ("1", "true"):
        return
    own = {}
    for label in (inner for inner in labels if local(inner.tag) == "dLbl"):
        shown = text(child(label, "tx"))
        if shown:
            own[value(label, "idx", "")] = shown
    usual = [show for show in SHOWS if value(labels, show, "0") in ("1", "true")]
    usual = usual[:1] if usual == ALL_SHOWN else usual
    if own or usual:
        traits[f"{name} labels"] = "; ".join(f"{at}: {said}" for at, said in sorted(own.items())) or " ".join(usual)
    if usual and not own:
        code = child(labels, "numFmt")
        told = tokens(code.get("formatCode", "")) if code is not None else GENERAL
        traits[f"{name} format of labels"] = repr(told)
    for reason in faint(labels):
        if own or usual:
            traits[f"{name} labels faint"] = reason


def _axis(traits: Traits, name: str, axis: Element, across: bool) -> None:
    _odd(traits, axis, "axis", name)
    scaling = child(axis, "scaling")
    if scaling is not None:
        _odd(traits, scaling, "scaling", name)
    ends = [f"{float(value(scaling, end, 'nan')):g}" for end in ("min", "max")]
    traits[f"{name} scale"] = " ".join([value(scaling, "orientation", "minMax"), *ends])
    if across:
        traits[f"{name} side"] = value(axis, "axPos", "")
    gone = value(axis, "delete", "0") in ("1", "true")
    traits[f"{name} shown"] = "no" if gone or value(axis, "tickLblPos", "nextTo") == "none" else "yes"
    if gone:
        return
    traits[f"{name} steps"] = f"{float(value(axis, 'majorUnit', 'nan')):g}"
    if child(axis, "tickLblSkip") is not None:
        traits[f"{name} names each"] = value(axis, "tickLblSkip", "1")
    _text(traits, f"{name} title", child(axis, "title"))
    for reason in faint(child(axis, "txPr")):
        traits[f"{name} faint"] = reason
    code = child(axis, "numFmt")
    linked = code is None or code.get("sourceLinked", "0") in ("1", "true")
    if code is not None and not linked and tokens(code.get("formatCode", "")) != GENERAL:
        traits[f"{name} format"] = code.get("formatCode", "")


def odd_names(root: Element) -> Iterator[str]:
    """Relations and drawings over a chart, which none of ours has."""
    yield from (local(e.tag) for e in root.iter() if local(e.tag) in ("userShapes", "externalData", "blipFill"))
