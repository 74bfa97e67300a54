"""For each lens and formula the constant that zeroes the mean error of its regular corneas, recomputed at each step.

The steps are those of the workbook (a usual slope, then the secant twice); the refraction is found by ray matrices.

Another method: refractions by ray-transfer matrices (vergence) and heights by half-angles (lens_position), where the
cells have closed forms; spreads by deviations, where they subtract squares of the mean.
An echo: the steps to the constant, their limits and the verdict as the cells compute them.
"""

from __future__ import annotations

import numpy as np

from builder.planner.reference import lens_position as place
from builder.planner.reference import vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.keratometry import light_numbers, radius_of_k
from builder.planner.reference.lens_length import adjusted_length_wang2011, regression, share_of_adjustment
from builder.planner.reference.plan.judge import name_key
from builder.planner.reference.register.patients import of_fellow, of_mean, patients
from builder.planner.reference.register.rows import FORMULAS, Array, RegisterBook, Rows, mean, sd

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
    """What differs between the formulas: each from the reference's own cornea and length."""
    rows.put("plan", **light_numbers())
    length = {key: vergence.optical_length(name, np.array([0.0, 1.0])) for key, name in NAMES.items()}
    rows.put(
        "formulas",
        index_numerator=[float(vergence.corneal_power(NAMES[f], 1.0) * radius_of_k(1.0)) for f in FORMULAS],
        length_added=[float(length[f][0]) for f in FORMULAS],
        length_scale=[float(length[f][1] - length[f][0]) for f in FORMULAS],
        adjust_slope=[regression(NAMES[f])[0] for f in FORMULAS],
        adjust_offset=[regression(NAMES[f])[1] for f in FORMULAS],
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
        length_weight=np.where(adjusted, share_of_adjustment(length), np.where(np.isnan(length), np.nan, 0.0)),
        mean_radius=radius_of_k(rows.number("mean_k")),
        position_radius=radius_of_k(rows.number("position_k")),
        srkt_corrected_length=s.corrected_length,
        srkt_wide=s.corneal_width,
        holladay_chamber=y.chamber_width,
        holladay_dome=np.where(np.isnan(length), np.nan, y.used_radius),
        hoffer_used=q.used_length,
        hoffer_sign=q.sign,
        hoffer_turn=q.turning_length,
        hoffer_bent=q.bend,
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
    back = np.array(
        [name_key(str(source)) == name_key(book.words.get("choice", "back")) for source in rows.line("k_source")]
    )
    bag = rows.number("lens_seat") != IN_SULCUS  # constants are of a lens in the bag
    plain = (rows.number("corneal_diagnosis") == REGULAR) & ~back & bag  # a back-corrected K is of another scale
    regular = np.where(plain, number, np.nan)
    from_back = np.where(np.isnan(rows.line("line_counts")), np.nan, back.astype(float))
    rows.put("lines", lens_regular=regular, k_from_back=from_back)
    lenses = range(1, book.lenses + 1)
    rows.put(
        "lens_rows",
        lens_eyes=[float((number == lens).sum()) for lens in lenses],
        lens_regular_eyes=[float((regular == lens).sum()) for lens in lenses],
        lens_mixed_error=[mean(error[number == lens]) for lens in lenses],
    )


def _formula(book: RegisterBook, rows: Rows, formula: str, base: Array) -> None:
    slope, number, old = slope_of(formula), rows.line("lens_regular"), rows.number(f"{formula}_constant")
    listed = np.where(np.isnan(base) | np.isnan(old), np.nan, number)
    lenses = np.arange(1.0, book.lenses + 1)
    count = np.array([float((listed == lens).sum()) for lens in lenses])
    start = np.array([old[listed == lens].mean() if n else np.nan for lens, n in zip(lenses, count, strict=True)])

    def of_lens(table: Array, members: Array) -> Array:
        return np.where(np.isnan(members), np.nan, table[np.nan_to_num(members, nan=1).astype(int) - 1])

    first = base + slope * of_lens(start, listed)
    reach, light = CONSTANTS.constant_reach, 1000 * CONSTANTS.index_aqueous
    optical = vergence.optical_length(NAMES[formula], rows.line(f"{formula}_length"))
    inside = (first - reach >= CONSTANTS.shallowest_lens - CONSTANTS.rounding_slack) & (
        first + reach <= CONSTANTS.deepest_lens + CONSTANTS.rounding_slack
    )
    converging = light / (optical - first + reach) > rows.number("implanted_power")
    judged = np.where(inside & converging, listed, np.nan)
    cornea = vergence.corneal_power(NAMES[formula], rows.number("mean_k"))

    def miss(position: Array) -> Array:
        predicted = vergence.refraction(cornea, optical, position, rows.number("implanted_power"))
        return np.where(np.isnan(judged), np.nan, rows.line("achieved_mean") - predicted)

    eyes = np.array([float((judged == lens).sum()) for lens in lenses])
    enough = eyes >= CONSTANTS.least_eyes_for_constant

    def means(misses: Array) -> Array:
        return np.array([mean(misses[judged == lens]) for lens in lenses])

    lowest, highest = start - reach / slope, start + reach / slope
    places, misses = [first], [miss(first)]
    constants, mean_errors = [start], [means(misses[0])]
    for _ in STEPS[1:]:
        following = _next(constants, mean_errors, slope)
        constants.append(np.where(enough, np.clip(following, lowest, highest), np.nan))
        places.append(base + slope * of_lens(constants[-1], judged))
        misses.append(miss(places[-1]))
        mean_errors.append(means(misses[-1]))
    rows.put(
        "lines",
        **{f"{formula}_optical": optical, f"{formula}_inside": np.where(np.isnan(first), np.nan, inside)},
        **{f"{formula}_listed": listed, f"{formula}_judged": judged, f"{formula}_square1": np.square(misses[0])},
    )
    spread = np.array([sd(misses[0][judged == lens]) for lens in lenses])
    design = _by_patients(rows, formula, judged, misses[0], lenses)
    _put(book, rows, formula, (count, eyes, enough), (spread, design), (lowest, highest), constants, mean_errors)
    for step, where, error in zip(STEPS, places, misses, strict=True):
        rows.put("lines", **{f"{formula}_place{step}": where, f"{formula}_miss{step}": error})


def _by_patients(rows: Rows, formula: str, judged: Array, miss: Array, lenses: Array) -> Array:
    """The design effect of each lens's mean error: both eyes of a patient with the same lens are no two patients."""
    both = np.where(of_fellow(rows, judged) == judged, judged, np.nan)
    other = np.where(np.isnan(both), np.nan, of_fellow(rows, miss))
    rows.put("lines", **{f"{formula}_both": both, f"{formula}_pair1": other, f"{formula}_product1": miss * other})
    steps = [of_mean(np.where(judged == lens, miss, np.nan), patients(rows)) for lens in lenses]
    table = {key: np.array([step[key] for step in steps]) for key in steps[0]}
    rows.put("lens_rows", **{f"{formula}_{key}": column for key, column in table.items()})
    return table["design"]


def _next(constants: list[Array], errors: list[Array], slope: float) -> Array:
    """The usual slope at first, the secant afterwards; none where two mean errors are the same."""
    if len(constants) == 1:
        return constants[0] + errors[0] / (CONSTANTS.usual_slope * slope)
    (before, last), (was, now) = constants[-2:], errors[-2:]
    same = np.abs(now - was) < CONSTANTS.rounding_slack
    return np.where(same, last, last - now * (last - before) / (now - was))


def _put(
    book: RegisterBook,
    rows: Rows,
    formula: str,
    counts: tuple[Array, Array, Array],
    spreads: tuple[Array, Array],
    ends: tuple[Array, Array],
    constants: list[Array],
    errors: list[Array],
) -> None:
    count, eyes, enough = counts
    spread, design = spreads
    w = book.words.get
    moved = constants[1] - constants[0]
    slope = np.where(
        np.abs(moved) < CONSTANTS.rounding_slack,
        CONSTANTS.usual_slope * slope_of(formula),
        np.abs((errors[1] - errors[0]) / moved),
    )
    slope = np.where(enough, slope, np.nan)
    margin = np.where(eyes > 0, CONSTANTS.normal_95 * spread * np.sqrt(design / eyes) / slope, np.nan)
    of_lens = rows.values["lens_rows", "lens_eyes"]
    said = []
    for n in range(book.lenses):
        if of_lens[n] == 0:
            said.append("")
        elif not enough[n]:
            said.append(f"{w('word', 'constant_few')}{eyes[n]:.0f}{w('word', 'constant_few_of')}{of_lens[n]:.0f}")
        elif abs(errors[3][n]) > CONSTANTS.precision_of_root + CONSTANTS.rounding_slack:
            said.append(w("word", "constant_out_of_reach"))
        else:
            change = abs(constants[3][n] - constants[0][n]) > margin[n] + CONSTANTS.rounding_slack
            said.append(w("word", "constant_change" if change else "constant_keep"))
    few = [
        f"{w('word', 'constant_few')}{n:.0f}{w('word', 'constant_few_of')}{m:.0f}" if m else ""
        for n, m in zip(eyes, of_lens, strict=True)
    ]
    missed = np.abs(errors[3]) > CONSTANTS.precision_of_root + CONSTANTS.rounding_slack
    other = np.abs(constants[3] - constants[0]) > margin + CONSTANTS.rounding_slack
    steps = {f"constant{n}": constants[n - 1] for n in STEPS[1:]} | {f"mean{n}": errors[n - 1] for n in STEPS}
    found = {
        "listed_eyes": count,
        "eyes": eyes,
        "enough": enough.astype(float),
        "start": constants[0],
        "used_mean": constants[0],
        "lowest": ends[0],
        "highest": ends[1],
        "before": errors[0],
        "zeroing": constants[3],
        "left": errors[3],
        "slope": slope,
        "spread": spread,
        "give_or_take": margin,
        "missed": np.where(enough, missed, np.nan),
        "other": np.where(enough, other, np.nan),
        "few_said": np.array(few, dtype=object),
        "said": np.array(said, dtype=object),
        **steps,
    }
    rows.put("lens_rows", **{f"{formula}_{key}": value for key, value in found.items()})
