"""For each lens and formula the constant that zeroes the mean error of its regular corneas, recomputed at each step.

The steps are those of the workbook (a usual slope, then the secant twice); the refraction is found by ray matrices.

Another method: refractions by ray-transfer matrices (vergence) and heights by half-angles (lens_position), where the
cells have closed forms; spreads by deviations, where they subtract squares of the mean.
An echo: the steps to the constant, their limits and the flags of what is said as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.planner.reference import lens_position as place
from builder.planner.reference import vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.keratometry import light_numbers, radius_of_k
from builder.planner.reference.lens_length import adjusted_length_wang2011, share_of_adjustment
from builder.planner.reference.register.patients import of_fellow, of_mean, patients
from builder.planner.reference.register.rows import FORMULAS, Array, RegisterBook, Rows, beside, mean, sd

BY_A_CONSTANT = ("srkt", "t2")  # the others have a constant that is a length itself
NAMES = dict(zip(FORMULAS, vergence.FORMULAS, strict=True))
STEPS = (1, 2, 3, 4)
ADJUSTED = 1.0  # place of the adjusted length among the length rules
REGULAR = 1.0  # place of the regular cornea among the diagnoses
IN_SULCUS = 2.0  # place of the sulcus among the seats


def slope_of(formula: str) -> float:
    """How far the lens moves (mm) with a formula's constant."""
    return CONSTANTS.srkt_depth_slope if formula in BY_A_CONSTANT else 1.0


def formula_table(rows: Rows) -> None:
    """What differs between the formulas: each from the reference's own length."""
    rows.put("plan", **light_numbers())
    length = np.array([vergence.optical_length(name, np.array([0.0, 1.0])) for name in NAMES.values()])
    rows.put(
        "formulas",
        length_added=length[:, 0],
        length_scale=length[:, 1] - length[:, 0],
        position_slope=[slope_of(f) for f in FORMULAS],
    )


def positions(rows: Rows) -> dict[str, Array]:
    """The lens position of each line without the formula's constant (mm)."""
    length, k = rows.counted("axial_length"), rows.counted("position_k")
    adjusted = rows.number("length_rule") == ADJUSTED
    used = {f: np.where(adjusted, adjusted_length_wang2011(NAMES[f], length), length) for f in FORMULAS}
    rows.put("lines", **{f"{f}_length": row for f, row in used.items()})
    s = place.position_srkt_retzlaff1990(used["srkt"], k, 0.0)
    y = place.position_holladay1988(used["holladay1"], k, 0.0)
    q = place.position_hoffer1993(used["hofferq"], k, 0.0)
    g = place.position_haigis2000(
        used["haigis"], rows.counted("chamber_depth"), 0.0, rows.number("haigis_a1"), rows.number("haigis_a2")
    )
    t = place.position_sheard2010(used["t2"], k, 0.0)
    rows.put(
        "lines",
        counted_length=length,
        length_weight=np.where(adjusted, share_of_adjustment(length), beside(length, 0.0)),
        mean_radius=radius_of_k(rows.number("mean_k")),
        position_radius=radius_of_k(rows.number("position_k")),
        srkt_corrected_length=s.corrected_length,
        srkt_wide=s.width,
        holladay_chamber=y.chamber,
        holladay_dome=beside(length, y.dome_radius),
        hoffer_used=q.length,
        hoffer_sign=q.sign,
        hoffer_turn=q.turn,
        hoffer_bent=q.length_term,
        t2_constant=rows.number("srkt_constant"),
    )
    found = dict(zip(FORMULAS, (each.position for each in (s, y, q, g, t)), strict=True))
    rows.put("lines", **{f"{key}_base": value for key, value in found.items()})
    return found


def lens_constants(book: RegisterBook, rows: Rows) -> None:
    """All lenses and formulas of one register."""
    formula_table(rows)
    _members(book, rows)
    bases = positions(rows)
    for formula in FORMULAS:
        _formula(book, rows, formula, bases[formula])


def _members(book: RegisterBook, rows: Rows) -> None:
    """The eyes of each lens: which of them have a regular cornea, and the mean error of all as planned."""
    number, error = rows.line("lens_number"), rows.line("error_lead")
    back = rows.named("k_source", book.words.get("choice", "back"))
    bag = rows.number("lens_seat") != IN_SULCUS  # constants are of a lens in the bag
    plain = (rows.number("corneal_diagnosis") == REGULAR) & ~back & bag  # a back-corrected K is of another scale
    regular = np.where(plain, number, np.nan)
    rows.put("lines", lens_regular=regular, k_from_back=back.astype(float))
    lenses = range(1, book.lenses + 1)
    rows.put(
        "lens_rows",
        lens_eyes=[float((number == lens).sum()) for lens in lenses],
        lens_regular_eyes=[float((regular == lens).sum()) for lens in lenses],
        lens_mixed_error=[mean(error[number == lens]) for lens in lenses],
    )


def _formula(book: RegisterBook, rows: Rows, formula: str, base: Array) -> None:
    slope, reach, old = slope_of(formula), CONSTANTS.constant_reach, rows.number(f"{formula}_constant")
    lenses = np.arange(1.0, book.lenses + 1)
    listed = np.where(np.isnan(base) | np.isnan(old), np.nan, rows.line("lens_regular"))

    def position(constant: Array, members: Array) -> Array:
        return beside(members, base + slope * constant[np.nan_to_num(members, nan=1).astype(int) - 1])

    def means(values: Array, members: Array) -> Array:
        return np.array([mean(values[members == lens]) for lens in lenses])

    start = means(old, listed)
    first, lens = position(start, listed), rows.number("implanted_power")
    optical = vergence.optical_length(NAMES[formula], rows.line(f"{formula}_length"))
    cornea = vergence.corneal_power(NAMES[formula], rows.number("mean_k"))
    inside = (first - reach >= CONSTANTS.shallowest_lens - CONSTANTS.rounding_slack) & (
        first + reach <= CONSTANTS.deepest_lens + CONSTANTS.rounding_slack
    )
    converging = 1000 * CONSTANTS.index_aqueous / (optical - first + reach) > lens
    judged = np.where(inside & converging, listed, np.nan)
    eyes = (judged == lenses[:, None]).sum(axis=1).astype(float)
    enough = eyes >= CONSTANTS.least_eyes_for_constant
    constants, errors = [start], list[Array]()
    for step in STEPS:
        if step > 1:
            following = np.clip(_next(constants, errors, slope), start - reach / slope, start + reach / slope)
            constants.append(np.where(enough, following, np.nan))
        place = position(constants[-1], judged if step > 1 else listed)
        miss = beside(judged, rows.line("achieved_mean") - vergence.refraction(cornea, optical, place, lens))
        errors.append(means(miss, judged))
        rows.put("lines", **{f"{formula}_place{step}": place, f"{formula}_miss{step}": miss})
    miss = rows.line(f"{formula}_miss1")
    rows.put(
        "lines",
        **{
            f"{formula}_optical": optical,
            f"{formula}_inside": beside(first, inside),
            f"{formula}_listed": listed,
            f"{formula}_judged": judged,
            f"{formula}_square1": miss**2,
        },
    )
    found = {
        "listed_eyes": (listed == lenses[:, None]).sum(axis=1),
        "eyes": eyes,
        "enough": enough,
        "start": start,
        "lowest": start - reach / slope,
        "highest": start + reach / slope,
        "spread": np.array([sd(miss[judged == number]) for number in lenses]),
        **{f"constant{n}": constants[n - 1] for n in STEPS[1:]},
        **{f"mean{n}": errors[n - 1] for n in STEPS},
    }
    found |= _known(slope, found, _by_patients(rows, formula, judged, miss, lenses))
    rows.put("lens_rows", **{f"{formula}_{key}": value for key, value in found.items()})


def _by_patients(rows: Rows, formula: str, judged: Array, miss: Array, lenses: Array) -> Array:
    """The design effect of each lens's mean error: both eyes of a patient with the same lens are no two patients."""
    both = np.where(of_fellow(rows, judged) == judged, judged, np.nan)
    other = beside(both, of_fellow(rows, miss))
    rows.put("lines", **{f"{formula}_both": both, f"{formula}_pair1": other, f"{formula}_product1": miss * other})
    rows.table(
        "lens_rows", [of_mean(np.where(judged == n, miss, np.nan), patients(rows)) for n in lenses], f"{formula}_"
    )
    return rows.values["lens_rows", f"{formula}_design"]


def _next(constants: list[Array], errors: list[Array], slope: float) -> Array:
    """The usual slope at first, the secant afterwards; none where two mean errors are the same."""
    if len(constants) == 1:
        return constants[0] + errors[0] / (CONSTANTS.usual_slope * slope)
    (before, last), (was, now) = constants[-2:], errors[-2:]
    same = np.abs(now - was) < CONSTANTS.rounding_slack
    return np.where(same, last, last - now * (last - before) / (now - was))


def _known(position_slope: float, found: dict[str, Array], design: Array) -> dict[str, Array]:
    """How far a constant is known: its limits, whether it was found, and whether it is another beyond chance."""
    moved, turned = found["constant2"] - found["start"], found["mean2"] - found["mean1"]
    usual = CONSTANTS.usual_slope * position_slope
    slope = np.where(np.abs(moved) < CONSTANTS.rounding_slack, usual, np.abs(turned / moved))
    margin = CONSTANTS.normal_95 * found["spread"] * np.sqrt(design / found["eyes"]) / slope
    farther = {
        "missed": np.abs(found["mean4"]) - CONSTANTS.precision_of_root,
        "other": np.abs(found["constant4"] - found["start"]) - margin,
    }
    return {
        "slope": slope,
        "give_or_take": margin,
        **{key: beside(gap, gap > CONSTANTS.rounding_slack) for key, gap in farther.items()},
    }
