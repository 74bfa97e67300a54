"""Charts leave nothing to a program's own default: an absent element is switched on in some and off in others."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import pytest

from builder.engine.exchange.fill import fill
from builder.engine.model import Model


@pytest.fixture(scope="module")
def charts(model: Model, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The text of each chart of the blank workbook."""
    path = tmp_path_factory.mktemp("explicit") / "blank.xlsx"
    fill(model, {}, Path(path))
    with zipfile.ZipFile(path) as archive:
        return {n: archive.read(n).decode() for n in archive.namelist() if n.startswith("xl/charts/chart")}


def test_every_switch_is_said(charts: dict[str, str]) -> None:
    """Straight lines, no more in a label than its value, ticks, what is empty, corners and overlays."""
    assert len(charts) > 10
    for name, text in charts.items():
        scatter = "<c:scatterChart>" in text
        series = len(re.findall("<c:ser>", text))
        assert len(re.findall('<c:smooth val="0"/>' if scatter else '<c:invertIfNegative val="0"/>', text)) == series, (
            name
        )
        assert text.count('<c:dispBlanksAs val="gap"/>') == text.count('<c:roundedCorners val="0"/>') == 1, name
        assert text.count('<c:varyColors val="0"/>') == 1, name
        assert text.count("<c:minorTickMark ") == text.count("<c:majorTickMark ") == 2, name
        values = text.count('<c:showVal val="1"/>')
        for part in ("showLegendKey", "showCatName", "showSerName", "showPercent", "showBubbleSize"):
            assert text.count(f'<c:{part} val="0"/>') == values, (name, part)
        assert text.count('<c:overlay val="0"/>') == text.count("<c:title>") + text.count("<c:legend>"), name
