"""The table of planted changes in an outcome register."""

from __future__ import annotations

import re
from collections.abc import Callable

from builder.planner.exchange.register import columns
from tests.support.plants import Copy, Plant, Spot, plant, protection, sheet_of
from tests.support.workbooks import at

IN_REGISTER: dict[str, Plant] = {}


def planted(kind: str) -> Callable[[Callable[[Copy], Spot]], Callable[[Copy], Spot]]:
    """Enters a change into the table of registers."""
    return plant(kind, IN_REGISTER)


def _typed(copy: Copy, column: str, line: int) -> Spot:
    """A cell of a line."""
    return at(copy.model, columns(copy.model)[column][line].place)


@planted("formula")
def one_sign_in_the_formula_of_a_line(copy: Copy) -> Spot:
    place = copy.place("lines", "line_counts", "", "line5")
    copy.formula(place, lambda formula: formula.replace("=0", "=1", 1))
    return place


@planted("formula")
def a_formula_of_another_line(copy: Copy) -> Spot:
    place, line = copy.place("lines", "line_verdict", "", "line5"), r"(?<=[A-Z])\d+"
    own = re.sub(r"\D", "", place[1])
    copy.formula(place, lambda formula: re.sub(line, lambda m: str(int(m[0]) + 1) if m[0] == own else m[0], formula))
    return place


@planted("formula")
def a_deviation_of_all_eyes_for_that_of_a_sample(copy: Copy) -> Spot:
    """STDEV.P is not what programs write for STDEV."""
    place = at(copy.model, next(p for p, c in copy.model.compiled.items() if "STDEV(" in c.formula))
    copy.formula(place, lambda formula: formula.replace("STDEV(", "_xlfn.STDEV.P("))
    return place


@planted("formula")
def a_value_over_a_result(copy: Copy) -> Spot:
    place = copy.place("plan", "lines_counted")
    copy.holds(place, 12.0)
    return place


@planted("constant")
def a_constant(copy: Copy) -> Spot:
    place = copy.constant(next(iter(copy.model.constants)))
    copy.holds(place, 7.5)
    return place


@planted("constant")
def the_edition_of_the_lines_it_takes(copy: Copy) -> Spot:
    place = copy.place("plan", "plan_edition")
    copy.holds(place, "9.9.9-00000000")
    return place


@planted("input_formula")
def a_formula_in_a_line(copy: Copy) -> Spot:
    place = _typed(copy, "axial_length", 2)
    copy.cell(place, lambda cell: cell.replace("<v>", "<f>23+1</f><v>"))
    return place


@planted("twice")
def a_typed_cell_twice(copy: Copy) -> Spot:
    place = _typed(copy, "axial_length", 2)
    copy.cell(place, lambda cell: cell + cell)
    return place


@planted("label")
def a_head(copy: Copy) -> Spot:
    place = sheet_of(copy, "results"), "A1"
    copy.holds(place, "Better results")
    return place


@planted("lock")
def the_lock_of_a_result(copy: Copy) -> Spot:
    place = copy.place("plan", "lines_counted")
    copy.restyle(place, protection('locked="0"'))
    return place


@planted("lock")
def a_cell_of_a_line_locked_by_a_paste(copy: Copy) -> Spot:
    place = _typed(copy, "axial_length", 3)
    copy.restyle(place, protection('locked="1"'))
    return place


def _rule(copy: Copy, edit: Callable[[str], str]) -> Spot:
    title, cell = _typed(copy, "axial_length", 0)
    pattern = rf'<dataValidation [^>]*sqref="{cell}[:"][^>]*>.*?</dataValidation>'
    copy.sub(copy.part(title), pattern, lambda found: edit(found[0]))
    return title, cell


@planted("validation")
def the_rule_of_a_column_removed(copy: Copy) -> Spot:
    return _rule(copy, lambda rule: "")


@planted("validation")
def the_rule_of_a_column_with_another_limit(copy: Copy) -> Spot:
    return _rule(copy, lambda rule: re.sub("<formula2>.*</formula2>", "<formula2>9999</formula2>", rule))


@planted("line_hidden")
def a_hidden_line(copy: Copy) -> Spot:
    copy.sub(copy.part(sheet_of(copy, "results")), r'<row r="8"[^>]*>', '<row r="8" hidden="1">')
    return sheet_of(copy, "results"), "8"


@planted("column_hidden")
def a_hidden_column(copy: Copy) -> Spot:
    copy.sub(copy.part(sheet_of(copy, "results")), r'<col min="2"', '<col hidden="1" min="2"')
    return sheet_of(copy, "results"), "B"


@planted("protection")
def a_sheet_unprotected(copy: Copy) -> Spot:
    copy.sub(copy.part(sheet_of(copy, "lines")), "<sheetProtection[^>]*/>", "")
    return sheet_of(copy, "lines"), ""


@planted("picture")
def a_picture_of_other_cells(copy: Copy) -> Spot:
    copy.sub("xl/charts/chart1.xml", r"(<c:yVal>.*?<c:f>[^<]*\$)\d+(:[^<]*</c:f>)", r"\g<1>1\2")
    return sheet_of(copy, "pictures"), ""


@planted("result")
def a_stored_result(copy: Copy) -> Spot:
    place = copy.place("plan", "lines_counted")
    copy.cell(place, lambda cell: re.sub(r"<v>.*</v>", "<v>11.5</v>", cell))
    return place


@planted("result")
def a_line_typed_without_recalculation(copy: Copy) -> Spot:
    copy.holds(_typed(copy, "sphere", 1), 2.75)
    return copy.place("lines", "sphere_outcome", "", "line2")
