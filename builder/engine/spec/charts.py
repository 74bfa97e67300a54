"""What a spec says of a chart, as plain data."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Series:
    """What a chart draws: rows of a list of the sides, with its marker, line, name and labels.

    `instance`: that line of the list alone. `named`: its name is what that row's fixed cell says of it.
    """

    across: str
    up: str
    marker: str = ""
    line: str = ""
    name: str = ""
    labels: str = ""
    centred: bool = False
    size: float = 7
    instance: str = ""
    named: str = ""


@dataclass(frozen=True)
class Chart:
    """A scatter chart for each side, or one `alone`.

    It starts at a line, or `beside` a block at a column. `span`: both axes run from -span to span and are not shown,
    so a circle is round. `bare`: no title and no frame, the drawing fills its square.
    """

    key: str
    width: int
    height: int
    title: str
    series: tuple[Series, ...]
    line: int = 0
    beside: str = ""
    column: int = 0
    bare: bool = False
    span: float = 0
    across_title: str = ""
    up_title: str = ""
    across_limits: tuple[float, ...] = ()
    legend: bool = False
    kind: str = "scatter"
    alone: bool = False
    up_limits: tuple[float, ...] = ()
