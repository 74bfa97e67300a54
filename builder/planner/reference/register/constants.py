"""For each lens and formula the constant that zeroes the mean error of its regular corneas, recomputed at each step.

The steps are those of the workbook (a usual slope, then the secant twice); the refraction is found by ray matrices.

Another method: refractions by ray-transfer matrices (vergence) and heights by half-angles (lens_position), where the
cells have closed forms; spreads by deviations, where they subtract squares of the mean.
An echo: the steps to the constant, their limits and the flags of what is said as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from builder.planner.reference import lens_position as place
from builder.planner.reference import vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.lens_length import adjusted_length_wang2011
from builder.planner.reference.register.patients import standard_error
from builder.planner.reference.register.rows import FORMULAS, Array, RegisterBook, Rows, by_key, mean

BY_A_CONSTANT = ("srkt", "t2")  # both the same one; the others have a constant that is a length itself
NAMES = dict(zip(FORMULAS, vergence.FORMULAS, strict=True))
STEPS = (1, 2, 3)  # to the next constant
ADJUSTED = 1.0  # place of the adjusted length among the length rules
REGULAR = 1.0  # place of the regular cornea among the diagnoses
IN_SULCUS = 2.0  # place of the sulcus among the seats


def slope_of(formula: str) -> float:
    """How far the lens moves (mm) with a formula's constant."""
    return CONSTANTS.srkt_depth_slope if formula in BY_A_CONSTANT else 1.0


def _lengths(rows: Rows) -> dict[str, Array]:
    """The axial length of each line that each formula uses (mm)."""
    length, adjusted = rows.counted("axial_length"), rows.number("length_rule") == ADJUSTED
    return {f: np.where(adjusted, adjusted_length_wang2011(NAMES[f], length), length) for f in FORMULAS}


def _positions(rows: Rows, used: dict[str, Array]) -> dict[str, Array]:
    """The lens position of each line without the formula's constant (mm)."""
    k, depth, per = rows.counted("position_k"), rows.counted("chamber_depth"), rows.number
    found = (
        place.position_srkt_retzlaff1990(used["srkt"], k, 0.0),
        place.position_holladay1988(used["holladay1"], k, 0.0),
        place.position_hoffer1993(used["hofferq"], k, 0.0),
        place.position_haigis2000(used["haigis"], depth, 0.0, per("haigis_a1"), per("haigis_a2")),
        place.position_sheard2010(used["t2"], k, 0.0),
    )
    return dict(zip(FORMULAS, (each.position for each in found), strict=True))


def lens_constants(book: RegisterBook, rows: Rows) -> None:
    """All lenses and formulas of one register."""
    regular, lengths = _members(book, rows), _lengths(rows)
    bases = _positions(rows, lengths)
    for formula in FORMULAS:
        _formula(book, rows, formula, regular, lengths[formula], bases[formula])


def _members(book: RegisterBook, rows: Rows) -> Array:
    """The lens of each eye with a regular cornea; how many there are, and the mean error of all as planned."""
    number, error = rows.lens, rows.line("error_lead")
    back = rows.named("k_source", book.words.get("choice", "back"))
    bag = rows.number("lens_seat") != IN_SULCUS  # constants are of a lens in the bag
    plain = (rows.number("corneal_diagnosis") == REGULAR) & ~back & bag  # a back-corrected K is of another scale
    regular = np.where(plain, number, np.nan)
    lenses = range(1, book.lenses + 1)
    rows.put(
        "lens_rows",
        lens_eyes=[float((number == lens).sum()) for lens in lenses],
        lens_regular_eyes=[float((regular == lens).sum()) for lens in lenses],
        lens_mixed_error=[mean(error[number == lens]) for lens in lenses],
    )
    return regular


def _formula(book: RegisterBook, rows: Rows, formula: str, regular: Array, length: Array, base: Array) -> None:
    """One formula: the error of each line with the mean constant in use, then lens by lens."""
    name, slope, own = NAMES[formula], slope_of(formula), BY_A_CONSTANT[0] if formula in BY_A_CONSTANT else formula
    old, lens, achieved = rows.number(f"{own}_constant"), rows.number("implanted_power"), rows.line("achieved_mean")
    optical, cornea = vergence.optical_length(name, length), vergence.corneal_power(name, rows.number("mean_k"))
    listed = np.where(np.isnan(base) | np.isnan(old), np.nan, regular)
    missed, table = np.full(old.shape, np.nan), []
    for number in range(1, book.lenses + 1):
        start = mean(old[listed == number])
        judged = (listed == number) & _within_reach(optical, base + slope * start, lens)

        def miss(constant: float, at: NDArray[np.bool_] = judged) -> Array:
            return achieved[at] - vergence.refraction(cornea[at], optical[at], base[at] + slope * constant, lens[at])

        missed[judged] = miss(start)
        table.append(_constant(start, slope, miss, rows.patient[judged]))
    rows.put("lines", **{f"{formula}_miss1": missed})
    rows.put("lens_rows", **by_key(table, f"{formula}_"))


def _within_reach(optical: Array, first: Array, power: Array) -> NDArray[np.bool_]:
    """Where every lens position within reach is one of an eye, and the light still converges on the retina."""
    reach, slack = CONSTANTS.constant_reach, CONSTANTS.rounding_slack
    inside = (first - reach >= CONSTANTS.shallowest_lens - slack) & (first + reach <= CONSTANTS.deepest_lens + slack)
    return inside & (1000 * CONSTANTS.index_aqueous / (optical - first + reach) > power)


def _constant(start: float, slope: float, miss: Callable[[float], Array], patient: Array) -> dict[str, float]:
    """What is known of the constant of one lens: the usual slope at first, then the secant, none beyond reach."""
    errors, reach, eyes = miss(start), CONSTANTS.constant_reach / slope, patient.size
    found = {"eyes": float(eyes), "used_mean": start, "before": mean(errors)}
    if eyes < CONSTANTS.least_eyes_for_constant:
        return found | dict.fromkeys(("zeroing", "left", "give_or_take", "missed", "other"), np.nan)
    usual = CONSTANTS.usual_slope * slope
    tried, means = [start], [mean(errors)]
    for step in STEPS:
        toward = means[-1] / usual if step == 1 else _by_secant(*tried[-2:], *means[-2:])
        tried.append(float(np.clip(tried[-1] + toward, start - reach, start + reach)))
        means.append(mean(miss(tried[-1])))
    moved = tried[1] - start
    turned = usual if abs(moved) < CONSTANTS.rounding_slack else abs((means[1] - means[0]) / moved)
    margin = CONSTANTS.normal_95 * standard_error(errors, patient) / turned
    return found | {
        "zeroing": tried[-1],
        "left": means[-1],
        "give_or_take": margin,
        "missed": float(abs(means[-1]) - CONSTANTS.precision_of_root > CONSTANTS.rounding_slack),
        "other": float(abs(tried[-1] - start) - margin > CONSTANTS.rounding_slack),
    }


def _by_secant(before: float, last: float, was: float, now: float) -> float:
    """How far on from the last constant the mean error is nought if it goes straight; nowhere if it stood still."""
    return 0.0 if abs(now - was) < CONSTANTS.rounding_slack else -now * (last - before) / (now - was)
