"""Native charts fed by cells: one for each side, side by side.

With alternative text and equal scales where a circle must be round."""

from __future__ import annotations

import math
from typing import Any

from builder.engine.layout import Place
from builder.engine.spec import SpecError
from builder.engine.spec.charts import Chart, Series
from builder.engine.spec.model import Row
from builder.engine.write.job import Job

GREYS = ("#D9D9D9", "#BFBFBF", "#999999", "#737373", "#4D4D4D", "#000000")
SMALLEST, GROWTH = 5, 3
PIXELS_A_LINE = 20  # a line of 15 points
LEGEND_LINE = 18  # pixels of a line of a legend, two names in each
SHAPES = {
    "dot": "circle",
    "small_dot": "circle",
    "speck": "circle",
    "large_dot": "circle",
    "square": "square",
    "triangle": "triangle",
    "diamond": "diamond",
    "grey_dot": "circle",
    "grey_square": "square",
    "grey_triangle": "triangle",
    "grey_diamond": "diamond",
    "cross": "x",
    "plus": "plus",
}
# Specks: many points over which lines must stay visible. Grey ones are large, so that small black ones show on them.
COLOURS = {"speck": GREYS[3]} | {f"grey_{shape}": GREYS[2] for shape in ("dot", "square", "triangle", "diamond")}
SIZES = {"small_dot": 4, "speck": 4, "large_dot": 9} | {shape: 9 for shape in SHAPES if shape.startswith("grey_")}
PLAIN_SIZE = 6
FONT = "Arial"  # as in the cells
LINES: dict[str, dict[str, Any]] = {
    "thin": {"width": 0.75},
    "thick": {"width": 2.0},
    "heavy": {"width": 5.0},
    "dashed": {"width": 1.5, "dash_type": "dash"},
}


def write_charts(job: Job, sheet: Any, key: str) -> None:
    """Writes the charts of one sheet at their lines.

    On the page of a side there is its own, else the right side from the first column and the left side from
    the last."""
    spec = job.sheet_spec(key)
    for chart in spec.charts:
        line = chart.line
        if chart.beside:
            block = f"{chart.beside}_{spec.side}" if spec.side else chart.beside
            line = next(s.first_line for s in job.layout.sections if s.block.key == block)
        else:
            job.pages[key].keep(line, line + math.ceil(chart.height / PIXELS_A_LINE))
        single = spec.side or chart.alone
        places = (
            [(chart.column, spec.side)] if single else zip((0, len(spec.columns) - 1), job.spec.sides.keys, strict=True)
        )
        for column, side in places:
            drawn = _chart(job, chart, side)
            sheet.insert_chart(
                line,
                column,
                drawn,
                {"object_position": 1, "x_offset": 6, "y_offset": 4, "description": _alternative(job, chart, side)},
            )


def _alternative(job: Job, chart: Chart, side: str) -> str:
    words = job.spec.words
    return f"{_title(job, chart, side)}. {words.get('text', 'alt_' + chart.key)}"


def _title(job: Job, chart: Chart, side: str) -> str:
    words = job.spec.words
    title = words.get("text", chart.title)
    return f"{job.spec.side_title(side)}: {title}" if side else title


def _chart(job: Job, chart: Chart, side: str) -> Any:
    words = job.spec.words
    bars = chart.kind == "bar"
    drawn = job.book.add_chart({"type": "bar"} if bars else {"type": "scatter", "subtype": "straight_with_markers"})
    for series in chart.series:
        drawn.add_series(_bars(job, series, side) if bars else _series(job, series, side))
    if chart.bare:
        drawn.set_title({"none": True})
    else:
        drawn.set_title(
            {"name": _title(job, chart, side), "name_font": {"name": FONT, "size": 9, "bold": True}, "overlay": False}
        )
    drawn.set_size({"width": chart.width, "height": chart.height})
    drawn.set_legend({"position": "bottom", "font": {"name": FONT, "size": 8}} if chart.legend else {"none": True})
    setters = [drawn.set_x_axis, drawn.set_y_axis]
    if bars:  # the library calls the axis of the values of lying bars x
        setters.reverse()
    for setter, text, limits in zip(
        setters, (chart.across_title, chart.up_title), (chart.across_limits, chart.up_limits), strict=True
    ):
        axis: dict[str, Any] = {
            "major_gridlines": {"visible": False},
            "num_font": {"name": FONT, "size": 8},
            "crossing": "min",
        }
        if text:
            axis |= {"name": words.get("text", text), "name_font": {"name": FONT, "size": 8, "bold": False}}
        if limits:
            axis |= {"min": limits[0], "max": limits[1], "major_unit": limits[2]}
        if chart.span:
            axis |= {"min": -chart.span, "max": chart.span, "visible": False}
        if bars and setter == setters[0]:
            axis |= {
                "interval_unit": 1,
                "num_font": {"name": FONT, "size": 7},
            }  # else a program leaves out every second name
        setter(axis)
    if chart.bare:
        drawn.set_plotarea({"layout": {"x": 0.01, "y": 0.01, "width": 0.98, "height": 0.98}})
    elif chart.span:
        below = LEGEND_LINE * math.ceil(len(chart.series) / 2) if chart.legend else 0
        edge = 0.9 * min(chart.width, chart.height - 24 - below)
        drawn.set_plotarea(
            {
                "layout": {
                    "x": (1 - edge / chart.width) / 2,
                    "y": 0.1,
                    "width": edge / chart.width,
                    "height": edge / chart.height,
                }
            }
        )
    drawn.set_chartarea({"border": {"none": True} if chart.bare else {"color": "#7F7F7F"}})
    return drawn


def _bars(job: Job, series: Series, side: str) -> dict[str, Any]:
    return {
        "categories": _range(job, series.across, side),
        "values": _range(job, series.up, side),
        "fill": {"color": "#595959"},
        "data_labels": {"value": True, "num_format": "0", "font": {"name": FONT, "size": 8}},
        "gap": 60,
    }


def _series(job: Job, series: Series, side: str) -> dict[str, Any]:
    options: dict[str, Any] = {
        "categories": _range(job, series.across, side, series.instance),
        "values": _range(job, series.up, side, series.instance),
        "line": {"none": True},
        "marker": {"type": "none"},
    }
    if series.line:
        options["line"] = {"color": "#000000"} | LINES[series.line]
    if series.marker in SHAPES:
        options["marker"] = {
            "type": SHAPES[series.marker],
            "size": SIZES.get(series.marker, PLAIN_SIZE),
            "fill": {"color": COLOURS.get(series.marker, "#000000")},
            "border": {"color": COLOURS.get(series.marker, "#000000")},
        }
    elif series.marker.startswith("band"):
        band = int(series.marker.removeprefix("band")) - 1
        colour = GREYS[band]
        options["marker"] = {
            "type": "circle",
            "size": SMALLEST + GROWTH * band,
            "fill": {"color": colour},
            "border": {"color": colour},
        }
    if series.name:
        options["name"] = job.spec.words.get("text", series.name)
    if series.named:
        options["name"] = str(job.constant_value(_row(job, series.named), series.instance))
    if series.labels:
        row = _row(job, series.labels)
        custom = [{"value": str(job.constant_value(row, instance))} for instance in row.cells]
        place: dict[str, Any] = {"position": "right", "font": {"name": FONT, "size": series.size}}
        if series.centred:
            place = {"position": "center", "font": {"name": FONT, "size": series.size, "bold": True}}
        options["data_labels"] = {"value": True, "custom": custom} | place
    return options


def _row(job: Job, key: str) -> Row:
    """A row of a list, by its first cell."""
    return next(slot.row for slot in job.layout.by_row[job.layout.lists_of[key][0], key].values())


def _places(job: Job, key: str, side: str, only: str) -> list[Place]:
    lists = job.layout.lists_of.get(key)
    if not lists:
        raise SpecError("chart", key, "is no row", "Name a row of a list of the sides")
    cells = job.layout.cells(lists[0], key).items()
    return [slot.place for (owner, name), slot in cells if owner in (side, "") and only in (name, "")]


def _range(job: Job, key: str, side: str, only: str = "") -> list[Any]:
    places = _places(job, key, side, only)
    title = job.spec.sheet_title(places[0].sheet)
    return [title, places[0].line, places[0].column, places[-1].line, places[-1].column]
