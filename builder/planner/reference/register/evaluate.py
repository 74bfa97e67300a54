"""Runs the calculation of a register in its order and gathers a value for every row.

An echo: comparisons, counts and products as the cells have them; all else is called from the other modules.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.planner.reference.constants import CONSTANTS, held
from builder.planner.reference.plan.cells import Values
from builder.planner.reference.plan.judge import conclude, judge
from builder.planner.reference.register import astigmatism, constants, errors
from builder.planner.reference.register.lines import read_lines
from builder.planner.reference.register.rows import RegisterBook, Rows

Typed = Mapping[str, NDArray[Any]]


def evaluate_register(book: RegisterBook, typed: Typed) -> Values:
    """The values of all rows for typed cells: a name (n,), columns (n, lines), as objects (None: blank)."""
    registers = len(typed["register_name"])
    with held(book.constants), np.errstate(all="ignore"):
        each = [_evaluate(book, {key: array[n] for key, array in typed.items()}).values for n in range(registers)]
    values = Values()
    for name, key in each[0]:
        values.put(name, **{key: np.stack([rows[name, key] for rows in each])})
    return values


def _evaluate(book: RegisterBook, typed: Mapping[str, Any]) -> Rows:
    columns = {key: array for key, array in typed.items() if np.ndim(array)}
    rows = read_lines(book, columns, _ends(book, columns))
    _name(book, rows, typed["register_name"])
    errors.line_errors(rows)
    errors.groups(rows)
    clouds = astigmatism.line_vectors(rows)
    astigmatism.clouds_table(rows, clouds)
    constants.lens_constants(book, rows)
    _how_many(rows)
    _proof(book, rows)
    _at_a_glance(book, rows)
    return rows


def _ends(book: RegisterBook, columns: Mapping[str, Any]) -> dict[str, tuple[float, float]]:
    def number(end: Any) -> float:
        return float(getattr(CONSTANTS, end)) if isinstance(end, str) else np.nan if end is None else float(end)

    return {item.key: (number(item.lowest), number(item.highest)) for item in book.inputs if item.key in columns}


def _name(book: RegisterBook, rows: Rows, typed: Any) -> None:
    item = next(item for item in book.inputs if item.key == "register_name")
    cell = np.empty((1,), dtype=object)
    cell[0] = typed
    judged = judge(item, cell, np.nan, np.nan, book.words, lambda _: ())
    rows.put("plan", **{key: value[0] for key, value in conclude(item, judged, None, None, book.words).items()})


def _how_many(rows: Rows) -> None:
    """How many eyes tell the mean, and the share within half a dioptre, as well as wanted."""
    spread, share = rows.values["series", "sd_error"][0], rows.values["series", "share_half"][0] / 100
    z = CONSTANTS.normal_95
    rows.put(
        "plan",
        eyes_for_mean=(z * spread / CONSTANTS.precision_of_mean) ** 2,
        eyes_for_share=z**2 * share * (1 - share) / (CONSTANTS.precision_of_share / 100) ** 2,
    )


def _proof(book: RegisterBook, rows: Rows) -> None:
    """The published shares and the limits worked by hand; what they should be is constant on the sheet of proof."""
    of_print = [CONSTANTS.lundstrom_half_eyes, CONSTANTS.lundstrom_one_eyes]
    counts = [*((inside, CONSTANTS.lundstrom_eyes) for inside in of_print), FEW]
    share, low, high = np.array([errors.proportion(*count) for count in counts]).T
    gaps = np.abs(share - PRINTED)
    gaps[-1] = np.abs(np.array([share[-1], low[-1], high[-1]]) - [PRINTED[-1], *FEW_LIMITS]).max()
    near = gaps <= CONSTANTS.share_digit / 2 + CONSTANTS.rounding_slack
    rows.put("printed", share_counted=share, wilson_low_counted=low, wilson_high_counted=high)
    rows.put("printed", printed_gap=gaps, printed_near=near.astype(float))
    rows.put("plan", proof_said=book.words.get("word", "proof_all" if near.all() else "proof_not_all"))


PRINTED = (72.7, 93.0, 80.0)  # percent within 0.5 and 1.0 D (lundstrom2018), and of the few eyes
FEW = 8, 10  # of so many eyes so many inside
FEW_LIMITS = (49.0, 94.3)  # percent: their limits by the equation of wilson1927, worked by hand


def _at_a_glance(book: RegisterBook, rows: Rows) -> None:
    filled, counts = (rows.line(key) == 1 for key in ("line_filled", "line_counts"))
    out = filled & ~counts
    rows.put(
        "plan",
        lines_filled=float(filled.sum()),
        lines_counted=float(counts.sum()),
        lines_left_out=float(out.sum()),
        first_left_out=out.argmax() + 1.0 if out.any() else np.nan,
        lines_other_edition=float((counts & ~rows.named("line_edition", book.plan_edition)).sum()),
    )
