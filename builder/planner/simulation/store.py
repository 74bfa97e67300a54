"""The invented cases as a table, one line an eye: what the register's demonstration is built from.

The draws are kept, not drawn at each build, so that another processor or library gives the same bytes.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from builder.engine.spec.reading import SPECS
from builder.planner.reference.eyes import EYES
from builder.planner.simulation.eyes import Case

SIMULATED = SPECS / "register" / "simulated.csv"
NOTE = (
    "# Invented eyes, drawn by python -m builder simulate from specs/clinical/population.toml; no real person is in it."
)
PLAN, EYE, VISIT = "plan.", "eye", "visit."
NAMES = ("confirmed_slips",)  # lists of names, with spaces between


def as_table(cases: Iterable[Case]) -> str:
    """The cases as comma-separated text; the columns in the order in which they first appear."""
    lines = []
    for case in cases:
        for name in EYES:
            if name in case:
                line: dict[str, Any] = {PLAN + key: value for key, value in case["plan"].items()} | {EYE: name}
                for key, value in case[name].items():
                    line |= {VISIT + k: v for k, v in value[0].items()} if key == "visit" else {key: _text(value)}
                lines.append(line)
    text = io.StringIO()
    columns = list(dict.fromkeys(key for line in lines for key in line))
    writer = csv.DictWriter(text, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(lines)
    return f"{NOTE}\n{text.getvalue()}"


def from_table(text: str) -> list[Case]:
    """The cases of such a text: numbers as numbers, empty cells left out."""
    cases: dict[str, Case] = {}
    for line in csv.DictReader(text.splitlines()[1:]):
        typed = {key: _value(key, value) for key, value in line.items() if value and key != EYE}
        plan = {key.removeprefix(PLAN): value for key, value in typed.items() if key.startswith(PLAN)}
        visit = {key.removeprefix(VISIT): value for key, value in typed.items() if key.startswith(VISIT)}
        eye = {key: value for key, value in typed.items() if not key.startswith((PLAN, VISIT))}
        cases.setdefault(str(plan["file_number"]), {"plan": plan})[line[EYE]] = eye | {"visit": [visit]}
    return list(cases.values())


def read_simulated(path: Path = SIMULATED) -> list[Case]:
    """The kept cases."""
    return from_table(path.read_text(encoding="utf-8"))


def _text(value: Any) -> Any:
    return " ".join(value) if isinstance(value, list) else value


def _value(key: str, text: str) -> Any:
    if key in NAMES:
        return text.split()
    try:
        return float(text)
    except ValueError:
        return text
