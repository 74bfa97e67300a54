"""The pictures: what nobody typed is parked outside and said in words; marks and titles can be told apart."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
import pytest

from builder.engine.exchange.fill import fill
from builder.engine.model import Model
from tests.support.workbooks import by_key, expected, typed_case


def _row(model: Model, cells: Any, key: str, eye: str = "right") -> list[float]:
    """A row of a list of the eyes."""
    (name,) = model.layout.lists_of[key]
    return [cells[slot.place] for (of, _), slot in model.layout.cells(name, key).items() if of == eye]


DRAWN = {  # row of places across: the axis, and what the sheet says when nothing is typed
    "measured_degrees": (0, 360, "3 mm ring"),
    "curve_across": (0, 360, "3 mm ring"),
    "peak_time": (-5, 0, "dated visits"),
    "turn_across": (0, 45, "toric lens"),
    "swing_across": (-90, 90, ""),
}


@pytest.mark.parametrize("key", DRAWN)
def test_what_is_not_typed_is_parked_outside(model: Model, key: str) -> None:
    """Never at zero, which would be a value."""
    low, high, word = DRAWN[key]
    full, choices = expected(model, [typed_case("followup-turned"), typed_case("only-choices")])
    assert any(low <= place <= high for place in _row(model, full, key))
    assert not any(low <= place <= high for place in _row(model, choices, key))
    assert word in by_key(model, choices, "drawn_said", "right")
    assert "Nothing to draw" in by_key(model, choices, "turning_said", "right")


def test_an_old_visit_is_outside_too(model: Model) -> None:
    """Five years are drawn: the axis says so, and the rest is parked."""
    cells = expected(model, [typed_case("every-limit")])[0]
    assert min(years for years in _row(model, cells, "pair_years_peak") if years is not None) < -5
    assert all(-5 <= place <= 0 or place < -100 for place in _row(model, cells, "peak_time"))
    assert "five are drawn" in model.spec.words.get("text", "chart_years")


@pytest.fixture(scope="module")
def charts(model: Model, tmp_path_factory: pytest.TempPathFactory) -> list[Any]:
    """The charts of the sheet Pictures as a program reads them."""
    path = tmp_path_factory.mktemp("charts") / "blank.xlsx"
    fill(model, {}, Path(path))
    return list(openpyxl.load_workbook(path)["Pictures"]._charts)


def _marks(chart: Any) -> list[tuple[str, int, str]]:
    """Shape, size and colour of each series that has a mark."""
    found = []
    for series in chart.series:
        if series.marker is not None and series.marker.symbol not in (None, "none"):
            fill_of = series.marker.graphicalProperties.solidFill
            colour = "" if fill_of is None else str(getattr(fill_of.srgbClr, "val", fill_of.srgbClr))
            found.append((series.marker.symbol, series.marker.size, colour))
    return found


def test_each_source_has_its_own_mark_and_its_name(model: Model, charts: list[Any]) -> None:
    """Ten shapes and sizes, none white, which some programs leave out; each named in the legend."""
    plots = [chart for chart in charts if len(_marks(chart)) == len(model.spec.lists["sources"].keys)]
    assert len(plots) == 2
    for chart in plots:
        marks, names = _marks(chart), [s.tx.v for s in chart.series]
        assert len({(symbol, size) for symbol, size, _ in marks}) == len(marks)
        assert not [colour for *_, colour in marks if colour.upper().endswith("FFFFFF")]
        assert chart.legend is not None
        assert len(set(names)) == len(names) == 2 + len(marks)  # the circle, and the meridians named round it
        assert all(names)


def test_the_title_of_the_shares_stands_at_their_axis(charts: list[Any]) -> None:
    """Percent is the axis of the values, below the lying bars, and reads from left to right."""
    bars = [chart for chart in charts if chart.tagname == "barChart"]
    assert len(bars) == 2
    for chart in bars:
        assert chart.x_axis.title is None
        title = chart.y_axis.title.tx.rich
        assert title.p[0].r[0].t == "percent"
        assert not title.bodyPr.rot
        assert chart.y_axis.axPos == "b"
