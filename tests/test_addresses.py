"""Cells as they are written, against two libraries for such files, and the words that are none."""

import pytest
from openpyxl.utils import column_index_from_string, get_column_letter, range_boundaries
from xlsxwriter.utility import quote_sheetname, xl_range, xl_rowcol_to_cell

from builder.engine.addresses import COLUMNS, address, apart, area, box, column_of, letters, on_sheet, spot, within


def test_columns_are_named_as_libraries_name_them() -> None:
    names = [letters(column) for column in range(1, COLUMNS + 1)]
    assert names == [get_column_letter(column) for column in range(1, COLUMNS + 1)]
    assert [column_of(name) for name in names] == [column_index_from_string(name) for name in names]


@pytest.mark.parametrize(("column", "line"), [(1, 1), (26, 9), (27, 10), (702, 99), (703, 1_048_576)])
def test_a_cell_is_written_and_read(column: int, line: int) -> None:
    assert address(column, line) == xl_rowcol_to_cell(line - 1, column - 1)
    assert address(column, line, True) == xl_rowcol_to_cell(line - 1, column - 1, True, True)
    assert spot(address(column, line)) == spot(address(column, line, True)) == (column, line)


def test_an_area_is_written_and_read() -> None:
    for corners in ((2, 3, 2, 3), (1, 1, 3, 2), (26, 7, 28, 9)):
        left, top, right, bottom = corners
        assert area(*corners) == xl_range(top - 1, left - 1, bottom - 1, right - 1)
        assert box(area(*corners)) == range_boundaries(area(*corners)) == corners
    assert within("$B$2:C3", 4) == ["B2", "C2", "B3", "C3"]


@pytest.mark.parametrize("title", ["Lens power", "Points", "Patient's page", "Córnea", "2b"])
def test_a_title_is_quoted_where_it_must_be(title: str) -> None:
    """As the library quotes it; quotes that need not be are no fault, for every program reads them."""
    written = on_sheet(title, "$A$1:$A$9")
    assert written in (f"{quote_sheetname(title)}!$A$1:$A$9", "'" + title.replace("'", "''") + "'!$A$1:$A$9")
    assert apart(written) == (title, "$A$1:$A$9")


@pytest.mark.parametrize("written", ["", "B", "12", "B0", "ABCD1", "B:C", "B2:C3:D4", "B-2", "É1"])
def test_what_is_no_area_is_refused(written: str) -> None:
    with pytest.raises(ValueError, match="is no cell"):
        box(written)


def test_a_large_area_is_refused() -> None:
    with pytest.raises(ValueError, match="more than 5 cells"):
        within("A1:B3", 5)
