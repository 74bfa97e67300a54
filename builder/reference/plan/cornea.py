"""Sheet of the cornea: candidates, rule, chosen mean power."""

from __future__ import annotations

import numpy as np

from builder.reference import after_laser, keratometry
from builder.reference.constants import CONSTANTS
from builder.reference.plan.cells import (
    Array,
    EyeValues,
    Values,
    WordArray,
    by_rule,
    highest,
    lowest,
    select,
    there,
)
from builder.reference.vectors import spectacle_to_cornea
from builder.spec.words import Words

CANDIDATES = ("ring", "zone3", "zone4", "second", "map3", "map4", "back", "total3", "total4")
METHODS = ("shammas_myopic", "shammas_hyperopic", "haigis_myopic", "wang", "history")


def convert_readings(values: Values, words: Words) -> None:
    """Readings as K at 1.3375, and the normal cornea."""
    eye = EyeValues(values)
    millimetres = eye.keratometry_unit == words.get("choice", "millimetres")
    known = eye.keratometry_unit != ""
    powers: dict[str, Array] = {}
    for index, factor, sources in (
        ("keratometer_index", "device_factor", ("ring", "zone3", "zone4", "after")),
        ("second_index", "second_factor", ("second",)),
    ):
        device = values.get("eyes", index)
        powers[factor] = keratometry.keratometric_power(1.0, device)
        for source in sources:
            for end in ("flat", "steep"):
                powers[f"{source}_{end}_power"] = _power(
                    values.get("eyes", f"{source}_{end}"), millimetres, known, device
                )
    values.put("eyes", **powers)
    one = np.ones(eye.keratometry_unit.shape[0])
    normal = (CONSTANTS.normal_front_radius, CONSTANTS.normal_back_radius, CONSTANTS.normal_thickness)
    share = keratometry.equivalent_k(1.0)
    values.put(
        "plan",
        normal_front_power=one * keratometry.front_power(normal[0]),
        normal_back_power=one * keratometry.back_power(normal[1]),
        normal_gaussian_power=one * keratometry.gaussian_power_gullstrand(*normal),
        normal_over_reading=one
        * keratometry.over_reading_pinero2014(
            keratometry.keratometric_power_of_radius(normal[0]), keratometry.gaussian_power_gullstrand(*normal)
        ),
        equivalent_index_less_one=one * (keratometry.standard_index_lioubrennan1997() - 1),
        keratometric_share=one * share,
        normal_over_reading_share=one * 100 * (1 - 1 / share),
    )


def _power(reading: Array, millimetres: np.ndarray, known: np.ndarray, index: Array) -> Array:
    by_radius = keratometry.keratometric_power_of_radius(np.where(millimetres, reading, np.nan))
    by_index = keratometry.keratometric_power(reading, index)
    return np.where(known & there(index), np.where(millimetres, by_radius, by_index), np.nan)


def power_of_reading(values: Values, words: Words, reading: Array) -> Array:
    """Readings of the first device (peak, map) as K at 1.3375; of each eye, or lists of each eye."""
    eye = EyeValues(values)
    lists = reading.ndim > eye.keratometer_index.ndim
    unit, index = (row[..., None] if lists else row for row in (eye.keratometry_unit, eye.keratometer_index))
    return _power(reading, unit == words.get("choice", "millimetres"), unit != "", index)


def _pair(values: Values, source: str) -> np.ndarray:
    return there(values.get("eyes", f"{source}_flat_power")) & there(values.get("eyes", f"{source}_steep_power"))


def back_surface(values: Values, words: Words) -> None:
    """Front from the 3 mm zone, else the ring; the back-corrected K; how much keratometry reads too much."""
    eye = EyeValues(values)
    w = words.get
    source = select([(_pair(values, "zone3"), w("choice", "zone3")), (_pair(values, "ring"), w("choice", "ring"))])
    front = {}
    for key, zone, ring in (
        ("front_flat_power", eye.zone3_flat_power, eye.ring_flat_power),
        ("front_steep_power", eye.zone3_steep_power, eye.ring_steep_power),
        ("front_steep_axis", eye.zone3_steep_axis, eye.ring_steep_axis),
    ):
        front[key] = by_rule(source, {w("choice", "zone3"): zone, w("choice", "ring"): ring})
    mean = (front["front_flat_power"] + front["front_steep_power"]) / 2
    radius = (eye.back_flat_radius + eye.back_steep_radius) / 2
    back = keratometry.back_power(radius)
    gaussian = keratometry.back_corrected_power(
        mean, eye.back_flat_radius, eye.back_steep_radius, eye.thickness_central
    )
    said = select(
        [(eye.state_thickness_central == w("word", "used"), w("word", "thickness_typed"))],
        w("word", "thickness_default"),
    )
    values.put(
        "eyes",
        front_source=source,
        **front,
        front_mean_k=mean,
        front_power=keratometry.front_power(keratometry.radius_of_k(mean)),
        back_mean_radius=radius,
        back_power=back,
        thickness_said=np.where(there(back), said, ""),
        gaussian_power=gaussian,
        back_corrected_k=keratometry.equivalent_k(gaussian),
        over_reading=keratometry.over_reading_pinero2014(mean, gaussian),
        over_reading_excess=keratometry.over_reading_excess(mean, gaussian),
    )


def candidates(values: Values, words: Words, discs: tuple[Array, Array]) -> dict[str, Array]:
    """The table of candidates; `discs`: the map's means over 3 and 4 mm."""
    eye = EyeValues(values)
    powers = {
        key: (values.get("eyes", f"{key}_flat_power") + values.get("eyes", f"{key}_steep_power")) / 2
        for key in ("ring", "zone3", "zone4", "second")
    }
    powers["map3"], powers["map4"] = discs
    powers["back"] = eye.back_corrected_k
    powers["total3"] = keratometry.total_power_equivalent_k(eye.total3_flat, eye.total3_steep)
    powers["total4"] = keratometry.total_power_equivalent_k(eye.total4_flat, eye.total4_steep)
    table = np.stack([powers[key] for key in CANDIDATES], axis=-1)
    low, high = lowest(*powers.values()), highest(*powers.values())
    values.put("candidates", candidate_power=table, candidate_over_lowest=table - low[..., None])
    first = select([(powers[key] == low, words.get("choice", key)) for key in CANDIDATES])
    values.put(
        "eyes",
        candidate_count=there(table).sum(axis=-1).astype(float),
        lowest_candidate=low,
        highest_candidate=high,
        candidate_spread=high - low,
        lowest_candidate_source=first,
    )
    return powers


def after_laser_powers(values: Values, words: Words, powers: dict[str, Array]) -> None:
    """The methods for a regular cornea after laser surgery, and the rule built on them."""
    eye = EyeValues(values)
    w = words.get
    plain = select([(there(powers["ring"]), w("choice", "ring")), (there(powers["zone3"]), w("choice", "zone3"))])
    k = by_rule(plain, {w("choice", "ring"): powers["ring"], w("choice", "zone3"): powers["zone3"]})
    myopic = eye.corneal_diagnosis == w("choice", "after_myopic_laser")
    hyperopic = eye.corneal_diagnosis == w("choice", "after_hyperopic_laser")
    vertex = CONSTANTS.default_vertex
    at_cornea = [
        spectacle_to_cornea(r, 0.0, 0.0, vertex).sphere
        for r in (eye.refraction_after_laser, eye.refraction_before_laser)
    ]
    methods = {
        "shammas_myopic": np.where(myopic, after_laser.k_shammas2003(k), np.nan),
        "shammas_hyperopic": np.where(hyperopic, after_laser.k_shammas2013(k), np.nan),
        "haigis_myopic": np.where(myopic, after_laser.k_haigis2008(k), np.nan),
        "wang": np.where(myopic, after_laser.k_wang2004(k), np.nan),
        "history": np.where(
            myopic | hyperopic,
            after_laser.k_history(eye.before_laser_k, eye.refraction_before_laser, eye.refraction_after_laser, vertex),
            np.nan,
        ),
    }
    table = np.stack([methods[key] for key in METHODS], axis=-1)
    known = there(eye.corneal_diagnosis)[..., None]
    state = select(
        [(~known & np.ones(table.shape, bool), ""), (there(table), w("word", "computed"))], w("word", "not_here")
    )
    values.put("methods", method_power=table, method_state=state)
    no_history = [methods[key] for key in METHODS[:-1]]
    low, high = lowest(*no_history), highest(*no_history)
    measured = lowest(powers["back"], powers["total3"], powers["total4"])
    chosen = lowest(low, measured)
    cases = [(powers[key] == chosen, w("choice", key)) for key in ("back", "total3", "total4")]
    cases += [(methods[key] == chosen, w("word", key)) for key in METHODS[:-1]]
    term = CONSTANTS.haigis_index_numerator / after_laser.radius_haigis2008(keratometry.radius_of_k(k))
    values.put(
        "eyes",
        plain_k_source=plain,
        plain_k=k,
        haigis_radius_term=term,
        laser_effect=at_cornea[0] - at_cornea[1],
        no_history_lowest=low,
        no_history_highest=high,
        no_history_spread=high - low,
        measured_whole_lowest=measured,
        after_laser_k=chosen,
        after_laser_source=select(cases),
    )


def choose_power(values: Values, words: Words, powers: dict[str, Array]) -> None:
    """Rule in force, mean K and where it comes from."""
    eye = EyeValues(values)
    w = words.get
    laser = (eye.corneal_diagnosis == w("choice", "after_myopic_laser")) | (
        eye.corneal_diagnosis == w("choice", "after_hyperopic_laser")
    )
    rule = select([(there(eye.k_rule), eye.k_rule), (laser, w("choice", "after_laser"))], w("choice", "lowest"))
    zones = (powers["zone3"] + powers["zone4"]) / 2
    total_source = select([(there(powers[key]), w("choice", key)) for key in ("total3", "total4", "back")])
    total = by_rule(total_source, {w("choice", key): powers[key] for key in ("total3", "total4", "back")})
    mean = by_rule(
        rule,
        {
            w("choice", "lowest"): eye.lowest_candidate,
            w("choice", "mean_of_zones"): zones,
            w("choice", "ring"): powers["ring"],
            w("choice", "total"): total,
            w("choice", "after_laser"): eye.after_laser_k,
            w("choice", "typed"): eye.typed_k,
        },
    )
    source = select(
        [
            (~there(mean), ""),
            (rule == w("choice", "lowest"), eye.lowest_candidate_source),
            (rule == w("choice", "total"), total_source),
            (rule == w("choice", "after_laser"), eye.after_laser_source),
            (there(mean), rule),
        ]
    )
    said = select(
        [
            (there(eye.k_rule), w("word", "rule_chosen")),
            (rule == w("choice", "after_laser"), w("word", "rule_default_laser")),
        ],
        w("word", "rule_default_lowest"),
    )
    diagnosis = eye.corneal_diagnosis
    note = select(
        [
            (diagnosis == "", ""),
            (diagnosis == w("choice", "radial_cuts"), w("word", "note_radial_cuts")),
            (diagnosis == w("choice", "ectasia_after_laser"), w("word", "note_ectasia_laser")),
        ],
        w("word", "note_peak"),
    )
    values.put(
        "eyes",
        k_rule_used=rule,
        zones_mean_k=zones,
        total_k_source=total_source,
        total_k=total,
        mean_k=mean,
        mean_k_source=source,
        mean_radius=keratometry.radius_of_k(mean),
        k_default_said=said,
        cornea_note=note,
    )


def behind_mean_k(values: Values, words: Words, again_source: WordArray) -> WordArray:
    """Which reading stands behind the mean K, for the second entry."""
    eye = EyeValues(values)
    w = words.get
    source = eye.mean_k_source
    of_map = [w("choice", key) for key in ("map3", "map4")]
    direct = [w("choice", key) for key in ("ring", "zone3", "zone4", "second", "total3", "total4")]
    other_zone = np.where(again_source == w("choice", "zone3"), w("choice", "zone4"), w("choice", "zone3"))
    return select(
        [
            (~there(source), ""),
            (source == w("choice", "typed"), ""),
            (np.isin(source, of_map), ""),
            (source == w("choice", "back"), eye.front_source),
            (source == w("choice", "mean_of_zones"), other_zone),
            (np.isin(source, direct), source),
            (there(source), eye.plain_k_source),
        ]
    )
