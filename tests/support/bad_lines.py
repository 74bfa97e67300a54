"""Lines as people paste them wrongly, each with the reason that the register gives."""

from __future__ import annotations

from typing import Any

from builder.planner.reference.plan.judge import ErrorValue
from tests.support.register_lines import invented_lines

# What is wrong with a line, and the words (column, fault) that it must be told in. No TRUE: read from a file into
# a cell with a number format it is 1 in LibreOffice; pasted in the program it is told apart.
SPOILT: list[tuple[dict[str, Any], str]] = [
    ({"axial_length": "24,1"}, "Axial length: text, no number"),
    ({"axial_length": 241.0}, "Axial length: out of limits"),
    ({"mean_k": "n/a"}, "Mean K used: text, no number"),
    ({"sphere": ErrorValue("#N/A")}, "Sphere: an error value"),
    ({"cylinder": 0.75}, "Cylinder: out of limits"),
    ({"eye": "both"}, "Eye: not in the list"),
    ({"eye": "*"}, "Eye: not in the list"),
    ({"corneal_diagnosis": "keratoconous"}, "Corneal diagnosis: not in the list"),
    ({"lead_formula": 3.0}, "Formula used: number, no words"),
    ({"lens": None}, "Lens: missing"),
    ({"lens": "   "}, "Lens: only spaces"),
    ({"lens": "x" * 41}, "Lens: too long"),
    ({"implanted_power": None, "day": "soon"}, "Day: text, no number"),
    ({"file_number": 12.5}, "File number: number, no words"),
    ({"file_number": None}, "File number: missing"),
    ({"date": 45000.5}, "Date: out of limits"),
    ({"predicted_haigis": ErrorValue("#DIV/0!")}, "Predicted by Haigis: an error value"),
    ({"lens_axis": 181.0}, "Lens axis, seen: out of limits"),
    ({"file_number": "~*1"}, "the file number holds a search sign (* ? ~)"),
    ({"lens": "~*lens"}, "the name of the lens holds a search sign (* ? ~)"),
]
# Fit to count, though something optional is missing or a word is written in its own way.
FINE: list[dict[str, Any]] = [
    {"eye": "RIGHT"},
    {"lens": "  Own   lens "},
    {"date": None},
    {"acd": None},
    {"ring_axis_after": None},
    {"axis": None},
    {"predicted_srkt": None},
    {"haigis_a0": "", "lens_axis": None},
    {"file_number": 77.0},
]
DOUBLED = "file number and eye stand in another line too"


def lines_with_faults() -> tuple[list[dict[str, Any]], list[str]]:
    """Spoilt, fine and doubled lines between sound ones, and what each must be told; "" for one that counts."""
    lines = invented_lines(30 + len(SPOILT) + len(FINE), seed=12)
    told = [""] * len(lines)
    for place, (change, reason) in enumerate(SPOILT, start=10):
        lines[place] = lines[place] | change
        told[place] = reason
    for place, change in enumerate(FINE, start=10 + len(SPOILT)):
        lines[place] = lines[place] | change
    lines[3] = lines[4] | {"sphere": 1.0}
    told[3] = told[4] = DOUBLED
    return lines, told
