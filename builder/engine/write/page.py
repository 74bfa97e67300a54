"""The page of one sheet: widths, heights of its lines, and where the paper ends, so that a heading keeps its table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

LINE = 15.0  # height of a line of plain type with its air, in points
LIST_LINE = 10.0  # likewise, of the small type of long lists
MILLIMETRE = 72 / 25.4
A4, LETTER = (210.0, 297.0), (215.9, 279.4)
SIDES, TOP_AND_BOTTOM = 2 * 11.0, 12.0 + 17.0  # margins in mm
SAFE = 0.98  # programs round the scale of a page down
FEWEST = 4  # lines of a long table that stay with its heading
A4_CODE = 9
SCREEN = 1250  # pixels of a sheet's width that a usual screen of 1366 shows beside the program's own edges
PIXELS_A_LETTER, PIXELS_ASIDE = 7, 5  # of a column's width on screen


def frozen_columns(columns: Sequence[float], charts: bool = False) -> int:
    """How many columns stay in sight: one where a sheet is wider than a screen and has no chart, else none.

    It holds the labels. With a chart there is none, for the line of a frozen column runs through headings and charts,
    where it reads as data."""
    wide = sum(PIXELS_A_LETTER * width + PIXELS_ASIDE for width in columns)
    return int(wide > SCREEN and not charts)


@dataclass
class Page:
    """What is known of a sheet's lines while it is written. Lines are zero-based, heights in points."""

    columns: tuple[float, ...]
    landscape: bool
    repeated: int = 2
    whole: bool = False  # one sheet, one page
    across: int = 1
    repeated_columns: int = 0
    heights: dict[int, float] = field(default_factory=dict)
    groups: list[tuple[int, int]] = field(default_factory=list)
    last_line: int = 0

    def need(self, line: int, height: float, least: float = LINE) -> None:
        """Makes a line at least so high."""
        self.heights[line] = max(self.heights.get(line, least), height)

    def keep(self, first: int, last: int) -> None:
        """These lines belong together: a heading and its table."""
        self.groups.append((first, last))
        self.last_line = max(self.last_line, last)

    def height(self, first: int, last: int) -> float:
        """Height of the lines from first to last."""
        return sum(self.heights.get(line, LINE) for line in range(first, last + 1))

    def room(self) -> float:
        """Height of a page in points of the sheet: the smaller of A4 and Letter, at the scale that fits the width."""
        wide = [int(width * 7 + 5) * 0.75 for width in self.columns]
        again = sum(wide[: self.repeated_columns])
        across = again + (sum(wide) - again) / self.across
        rooms = []
        for paper in (A4, LETTER):
            width, height = paper[::-1] if self.landscape else paper
            scale = min(1.0, (width - SIDES) * MILLIMETRE / across)
            rooms.append((height - TOP_AND_BOTTOM) * MILLIMETRE / scale * SAFE)
        return min(rooms) - self.height(0, self.repeated - 1)

    def breaks(self) -> list[int]:
        """Lines before which a new page starts."""
        room, found = self.room(), []
        left = room - self.height(self.repeated, self.groups[0][0] - 1) if self.groups else room
        for number, (first, last) in enumerate(self.groups):
            upto = self.groups[number + 1][0] - 1 if number + 1 < len(self.groups) else last
            whole = self.height(first, last)
            if whole > left and (whole <= room or self.height(first, min(last, first + FEWEST)) > left):
                found.append(first)
                left = room
            for line in range(first, upto + 1):
                high = self.height(line, line)
                if high > left and line <= last:
                    found.append(line)
                    left = room
                left -= high
        return found

    def finish(self, sheet: Any) -> None:
        """Sets heights, print range and page breaks when all is written."""
        for line, height in sorted(self.heights.items()):
            sheet.set_row(line, height)
        sheet.print_area(0, 0, self.last_line, len(self.columns) - 1)
        if not self.whole:
            sheet.set_h_pagebreaks(self.breaks())


def set_page(sheet: Any, page: Page, footer: str) -> None:
    """Widths, paper, margins, repeated lines, footer and protection of a sheet."""
    for column, width in enumerate(page.columns):
        sheet.set_column(column, column, width)
    sheet.set_default_row(LINE)
    sheet.protect(
        "", {"select_locked_cells": True, "select_unlocked_cells": True, "format_columns": True, "format_rows": True}
    )
    if page.landscape:
        sheet.set_landscape()
    sheet.set_paper(A4_CODE)
    sheet.fit_to_pages(page.across, 1 if page.whole else 0)
    if page.repeated_columns:
        sheet.repeat_columns(0, page.repeated_columns - 1)
    inches = 1 / 25.4
    sheet.set_margins(left=SIDES / 2 * inches, right=SIDES / 2 * inches, top=12.0 * inches, bottom=17.0 * inches)
    sheet.repeat_rows(0, page.repeated - 1)
    sheet.hide_gridlines(2)
    sheet.set_footer(footer)
