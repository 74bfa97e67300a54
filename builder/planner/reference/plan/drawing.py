"""Numbers that feed the pictures: always numbers, what is not there is parked outside the axes."""

from __future__ import annotations

from functools import partial
from itertools import accumulate

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference.constants import CONSTANTS, SLACK
from builder.planner.reference.corneal_map import DEGREES
from builder.planner.reference.plan.axes import select_names
from builder.planner.reference.plan.cells import EyeValues, Values, flag, half_up, select, there
from builder.planner.reference.plan.formulas import FORMULAS
from builder.planner.reference.plan.map import RINGS
from builder.planner.reference.plan.sources import SOURCES
from builder.planner.reference.toric import ROTATION_STEPS

BANDS = ("first", "second", "third", "fourth", "fifth", "sixth")
CURVE = np.arange(0.0, 370.0, 10.0)
NOT_DRAWN = -1000.0  # outside the axes
PEAK_DRAWN = 5.0  # D to either side of the last visit


def drawings(values: Values, words: Words) -> None:
    """The feeds of map, ring, double-angle plot and visits."""
    eye = EyeValues(values)
    powers = [values.get("meridians", f"map_power_{ring}") for ring in RINGS]
    seen = np.concatenate([eye.map_center_power[..., None], *powers], axis=-1)
    typed = there(seen).any(axis=-1)
    low = np.where(typed, np.fmin.reduce(seen, axis=-1), 0.0)
    high = np.where(typed, np.fmax.reduce(seen, axis=-1), 0.0)
    width = np.maximum(high - low, CONSTANTS.least_map_range) / len(BANDS)
    scaled = (seen - low[..., None]) / width[..., None]
    up = np.concatenate([[0.0], *(np.sin(np.radians(DEGREES)) * n / len(RINGS) for n in range(1, len(RINGS) + 1))])
    edges = [-1.0, 1.0, 2.0, 3.0, 4.0, 5.0, 1000.0]
    bands = {
        f"band_{name}": np.where(
            (scaled >= edges[n] - SLACK) & (scaled < edges[n + 1] - SLACK), np.round(up, 6), CONSTANTS.parked
        )
        for n, name in enumerate(BANDS)
    }
    values.put("map_points", point_seen=seen, point_value=scaled, **bands)
    waves = {
        key: values.get("rings", key)[..., 2, None] for key in ("ring_mean", "cosine_wave_twice", "sine_wave_twice")
    }
    angle = np.exp(2j * np.radians(CURVE))
    regular = ((waves["cosine_wave_twice"] - 1j * waves["sine_wave_twice"]) * angle).real
    circle = np.broadcast_to(np.exp(1j * np.radians(CURVE)), regular.shape)
    complete = there(waves["ring_mean"])
    values.put(
        "curve",
        curve_across=np.where(complete, CURVE, NOT_DRAWN),
        curve_regular=np.where(complete, regular, 0.0),
        circle_across=circle.real,
        circle_up=circle.imag,
    )
    values.put(
        "meridians",
        measured_degrees=np.where(complete, DEGREES, NOT_DRAWN),
        measured_ring=np.where(complete, powers[2] - waves["ring_mean"], 0.0),
    )
    size = values.get("sources", "source_cylinder")
    scale = np.maximum(np.nan_to_num(np.fmax.reduce(size, axis=-1)), 1.0)
    x, y = (values.get("sources", key) / scale[..., None] for key in ("source_x", "source_y"))
    values.put(
        "sources",
        vector_name=np.broadcast_to(select_names(SOURCES, words.get), x.shape),
        vector_across=np.where(there(x), x, CONSTANTS.parked),
        vector_up=np.where(there(y), y, CONSTANTS.parked),
    )
    values.put("eyes", map_lowest=low, map_highest=high, map_band_width=width, vector_scale=scale)
    _of_odds(values, [words.label(f"parts_{part}") for part in PARTS])
    years, peaks = values.get("visits", "pair_years_peak"), values.get("visits", "pair_value_peak")
    last = np.nan_to_num(years, nan=-np.inf).argmax(axis=-1)[..., None]
    latest = np.take_along_axis(peaks, last, axis=-1)
    values.put(
        "visits",
        peak_time=np.where(years >= -CONSTANTS.drawn_years - SLACK, years, NOT_DRAWN),
        peak_seen=np.nan_to_num(np.clip(peaks - latest, -PEAK_DRAWN, PEAK_DRAWN)),
    )
    values.put("eyes", latest_peak=latest[..., 0])


def captions(values: Values, words: Words) -> None:
    """What the pictures of each eye show, in words: the size of the circle, and what stays empty."""
    eye, say = EyeValues(values), partial(words.get, "word")
    of_pictures = {
        "map": values.get("map_points", "point_seen"),
        "ring": values.get("rings", "ring_mean")[..., 2:3],
        "sources": values.get("sources", "source_x"),
        "visits": values.get("visits", "pair_years_peak"),
        "shares": values.get("parts", "part_share"),
        "powers": values.get("around", "around_power"),
        "cylinder": values.get("rotations", "trace_cylinder_left"),
    }
    empty = {key: np.all(~there(row), axis=-1) for key, row in of_pictures.items()}
    drawn, circles, rests = (np.full(eye.eye_used.shape, "", dtype=object) for _ in range(3))
    so_far = np.full((*eye.eye_used.shape, len(empty)), "", dtype=object)
    for at in np.ndindex(drawn.shape):
        names = [say(f"lacks_{key}") if missing[at] else "" for key, missing in empty.items()]
        so_far[at] = list(accumulate(names))
        size = half_up(round(float(eye.vector_scale[at]), 9), 2)
        circles[at] = "" if empty["sources"][at] else f"{say('circle_is')}{size}{say('circle_end')}"
        apart = say("space") if circles[at] else ""
        rests[at] = apart + say("drawn_empty") + "".join(names) if any(names) else ""
        drawn[at] = circles[at] + rests[at] if eye.eye_used[at] == 1 else say("drawn_unused")
    lacking = np.stack([flag(missing) for missing in empty.values()], axis=-1)
    values.put("pictures", drawn_lacks=lacking, lacks_so_far=so_far)
    values.put(
        "eyes",
        drawn_missing=lacking.sum(axis=-1),
        circle_said=circles,
        empty_said=rests,
        drawn_said=drawn,
        turning_said=select([(there(eye.turn_by), say("turning_drawn"))], say("turning_empty")),
    )


PARTS = ("length_part", "cornea_part", "position_part", "power_part", "refraction_part", "long_eye_part", "focus_part")


def _of_odds(values: Values, names: list[str]) -> None:
    """Shares of the error, powers around the choice, and the lens off its axis."""
    eye = EyeValues(values)
    values.put(
        "parts",
        share_name=np.broadcast_to(np.array(names, dtype=object), values.get("parts", "part_share").shape),
        share_seen=np.nan_to_num(100 * values.get("parts", "part_share")),
    )
    power = values.get("around", "around_power")
    spare = {"power": np.nan_to_num(eye.lens_power)[..., None], "mean": np.nan_to_num(eye.predicted_mean)[..., None]}
    values.put(
        "around",
        around_across=np.where(there(power), power, spare["power"]),
        around_goal=np.broadcast_to(np.nan_to_num(eye.goal_refraction)[..., None], power.shape),
    )
    for key in FORMULAS:
        seen = values.get("around", f"around_{key}")
        values.put("around", **{f"around_up_{key}": np.where(there(seen), seen, spare["mean"])})
    left = values.get("rotations", "trace_cylinder_left")
    without = values.get("options", "trace_cylinder_left")[..., :1]
    values.put(
        "rotations",
        turn_across=np.where(there(left), ROTATION_STEPS, NOT_DRAWN),
        turn_left=np.nan_to_num(-left),
        turn_without=np.where(there(left), np.nan_to_num(-without), 0.0),
    )
