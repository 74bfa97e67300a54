"""Runs the calculation of a register in its order and gathers a value for every row.

An echo: comparisons, counts, products and sentences as the cells have them; all else is called from the other modules.
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
BENCHMARKS = (("regular", 0), ("regular", 0), ("keratoconus", 1))  # whose eyes stand beside the published ones


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
    _columns(book, rows, list(columns))
    _lenses(book, rows)
    _benchmarks(rows)
    _proof(book, rows)
    _at_a_glance(book, rows)
    return rows


def _ends(book: RegisterBook, columns: Mapping[str, Any]) -> dict[str, tuple[float, float]]:
    def number(end: Any) -> float:
        return float(getattr(CONSTANTS, end)) if isinstance(end, str) else np.nan if end is None else float(end)

    return {item.key: (number(item.lowest), number(item.highest)) for item in book.inputs if item.key in columns}


def _columns(book: RegisterBook, rows: Rows, columns: list[str]) -> None:
    """Limits that are constants of their own; the others are constant cells."""
    ends = _ends(book, dict.fromkeys(columns))
    rows.put("columns", column_lowest=[ends[c][0] for c in columns], column_highest=[ends[c][1] for c in columns])


def _name(book: RegisterBook, rows: Rows, typed: Any) -> None:
    item = next(item for item in book.inputs if item.key == "register_name")
    cell = np.empty((1,), dtype=object)
    cell[0] = typed
    judged = judge(item, cell, np.nan, np.nan, book.words, lambda _: ())
    rows.put("plan", **{key: value[0] for key, value in conclude(item, judged, None, None, book.words).items()})


def _lenses(book: RegisterBook, rows: Rows) -> None:
    order, keys = rows.line("lens_order"), rows.line("lens_choice")
    places = range(1, book.lenses + 1)
    names = [keys[list(order).index(p)] if p in order else "" for p in places]
    w = book.words.get
    seen = float(order.max())
    rows.put("lens_rows", lens_found=np.array(names, dtype=object))
    rows.put("plan", lenses_seen=seen, lenses_said=w("word", "more_lenses" if seen > book.lenses else "all_lenses"))


def _benchmarks(rows: Rows) -> None:
    half = [100 * CONSTANTS.lundstrom_half_eyes / CONSTANTS.lundstrom_eyes, CONSTANTS.gale_half, CONSTANTS.kamiya_half]
    one = [100 * CONSTANTS.lundstrom_one_eyes / CONSTANTS.lundstrom_eyes, CONSTANTS.gale_one, CONSTANTS.kamiya_one]
    stages = ("low", "middle", "high")
    own = {
        key: [rows.values["diagnoses", of][n] for _, n in BENCHMARKS] + list(rows.values["bands", cone])
        for key, of, cone in (
            ("own_eyes", "eyes_counted", "cone_eyes"),
            ("own_half", "share_half", "cone_half"),
            ("own_one", "share_one", "cone_one"),
        )
    }
    rows.put(
        "benchmarks",
        benchmark_half=[*half, *[np.nan] * 3],
        benchmark_one=[*one, *(getattr(CONSTANTS, f"yahalomi_{stage}_from") for stage in stages)],
        benchmark_one_to=[*[np.nan] * 3, *(getattr(CONSTANTS, f"yahalomi_{stage}_to") for stage in stages)],
        **own,
    )
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
    inside = np.array([*of_print, FEW_INSIDE], dtype=float)
    eyes = np.array([CONSTANTS.lundstrom_eyes, CONSTANTS.lundstrom_eyes, FEW_EYES], dtype=float)
    shares = errors.proportions("counted", inside, eyes)
    gaps = np.abs(shares["share_counted"] - np.array(PRINTED))
    limits = zip((shares["wilson_low_counted"][-1], shares["wilson_high_counted"][-1]), FEW_LIMITS, strict=True)
    gaps[-1] = max(gaps[-1], *(abs(computed - worked) for computed, worked in limits))
    near = gaps <= CONSTANTS.share_digit / 2 + CONSTANTS.rounding_slack
    agrees = [book.words.get("word", "proof_yes" if n else "proof_no") for n in near]
    rows.put(
        "printed",
        inside_counted=inside,
        eyes_counted=eyes,
        printed_gap=gaps,
        printed_near=near.astype(float),
        printed_agrees=np.array(agrees, dtype=object),
        **shares,
    )
    rows.put("plan", proof_said=book.words.get("word", "proof_all" if near.all() else "proof_not_all"))


PRINTED = (72.7, 93.0, 80.0)  # percent within 0.5 and 1.0 D (lundstrom2018), and of the few eyes
FEW_INSIDE, FEW_EYES = 8, 10
FEW_LIMITS = (49.0, 94.3)  # percent: their limits by the equation of wilson1927, worked by hand


def _at_a_glance(book: RegisterBook, rows: Rows) -> None:
    w = book.words.get
    filled, counted = rows.line("line_filled").sum(), rows.line("line_counts").sum()
    verdicts = list(rows.line("line_verdict"))
    out = filled - counted
    first = verdicts.index(w("word", "line_left_out")) + 1.0 if out else np.nan
    eyes, error, margin = (rows.values["series", key][0] for key in ("eyes_counted", "mean_error", "mean_margin"))
    many = "no_eye_yet" if counted == 0 else "eyes_too_few" if counted < CONSTANTS.few_eyes else "eyes_a_hint"
    many = "eyes_enough" if counted >= CONSTANTS.many_eyes else many
    off = (
        "mean_hyperopic"
        if error > margin + CONSTANTS.rounding_slack
        else "mean_myopic"
        if error < -margin - CONSTANTS.rounding_slack
        else "mean_near_zero"
    )
    name = rows.values["plan", "register_name"].item()
    following = (
        w("word", "next_paste")
        if not filled
        else f"{w('word', 'next_mend')}{first:.0f}"
        if out
        else w("word", "next_read")
    )
    incision = rows.values["plan", "incision_eyes"]
    effect, planned, reach = (
        rows.values["plan", key] for key in ("flattening_mean", "planned_flattening", "flattening_margin")
    )
    if incision < CONSTANTS.few_eyes or np.isnan(reach) or np.isnan(planned):
        said = "incision_too_few"
    else:
        said = "incision_differs" if abs(effect - planned) > reach + CONSTANTS.rounding_slack else "incision_agrees"
    rows.put(
        "plan",
        lines_filled=filled,
        lines_counted=counted,
        lines_left_out=out,
        first_left_out=first,
        lines_other_edition=float(list(rows.line("line_reason")).count(w("word", "line_other_edition"))),
        enough_said=w("word", many),
        mean_said=w("word", off if eyes >= 2 else "no_mean_yet"),
        flattening_said=w("word", said),
        page_line=f"{w('word', 'register_is')}{name}{w('word', 'edition_is')}{book.edition}",
        page_state=(
            f"{filled:.0f}{w('word', 'lines_of_which')}{counted:.0f}{w('word', 'lines_that_count')}"
            f"{out:.0f}{w('word', 'lines_out')}"
        ),
        type_next=following,
    )
