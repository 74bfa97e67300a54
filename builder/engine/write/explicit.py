"""Charts that say what they leave at its default, since programs differ in what they take an absent element for.

LibreOffice takes it as switched on, unless the file says that Microsoft wrote it: curves for straight lines, the name
of the series beside each label, points at zero for what is empty. xlsxwriter leaves such elements out.
"""

from __future__ import annotations

from typing import Any

from xlsxwriter.chart_bar import ChartBar
from xlsxwriter.chart_scatter import ChartScatter

LABEL_PARTS = ("showLegendKey", "showVal", "showCatName", "showSerName", "showPercent", "showBubbleSize")


class _Explicit:
    """The parts that both kinds of chart share: labels, ticks, titles and legend, what is empty, corners."""

    def _off(self: Any, element: str) -> None:
        self._xml_empty_tag(f"c:{element}", [("val", 0)])

    def _write_lang(self: Any) -> None:
        super()._write_lang()  # type: ignore[misc]
        self._off("roundedCorners")

    def _write_layout(self: Any, layout: Any, layout_type: Any) -> None:
        super()._write_layout(layout, layout_type)  # type: ignore[misc]
        if layout_type in ("text", "legend"):
            self._off("overlay")

    def _write_show_val(self: Any) -> None:
        for part in LABEL_PARTS:
            self._xml_empty_tag(f"c:{part}", [("val", int(part == "showVal"))])

    def _write_major_tick_mark(self: Any, val: Any) -> None:
        super()._write_major_tick_mark(val or "out")  # type: ignore[misc]

    def _write_minor_tick_mark(self: Any, val: Any) -> None:
        super()._write_minor_tick_mark(val or "none")  # type: ignore[misc]

    def _write_disp_blanks_as(self: Any) -> None:
        self._xml_empty_tag("c:dispBlanksAs", [("val", self.show_blanks)])


class ExplicitScatter(_Explicit, ChartScatter):  # type: ignore[misc]
    """Points and straight lines."""

    def _write_scatter_style(self, val: Any) -> None:
        super()._write_scatter_style(val)
        self._off("varyColors")

    def _write_c_smooth(self, smooth: Any) -> None:
        self._xml_empty_tag("c:smooth", [("val", int(bool(smooth)))])


class ExplicitBar(_Explicit, ChartBar):  # type: ignore[misc]
    """Lying bars of one colour."""

    def _write_grouping(self, val: Any) -> None:
        super()._write_grouping(val)
        self._off("varyColors")

    def _write_c_invert_if_negative(self, invert: Any) -> None:
        self._xml_empty_tag("c:invertIfNegative", [("val", int(bool(invert)))])


EXPLICIT = {ChartScatter: ExplicitScatter, ChartBar: ExplicitBar}
