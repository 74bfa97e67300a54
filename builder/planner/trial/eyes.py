"""Traced eyes as a table: what is typed of each, and what light made of it; kept, so that plans can be tried untraced.

`used_*`: the corneal power and astigmatism (D at 1.336, double-angle) that a thin ideal lens leaves to the cornea under
a meaning of focus. With them an eye's refraction behind any other lens follows by vergence, without tracing.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from builder.engine.spec.reading import SPECS
from builder.planner.optics.corneas import Corneas, draw, kinds
from builder.planner.optics.eye import Eye, Pupil
from builder.planner.optics.focus import refractions
from builder.planner.optics.instruments import read, ring
from builder.planner.optics.lenses import IdealLens
from builder.planner.optics.rays import power
from builder.planner.optics.surfaces import column
from builder.planner.reference import lens_position, vergence
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.toric import vergence_at_cornea

Line = dict[str, Any]
KEPT = SPECS / "clinical" / "traced.csv"
NOTE = "# Invented eyes, traced by python -m builder optics --keep; no real person is in it."
PUPILS = (3.0, 4.0)
MEANINGS = tuple(f"{pupil:g} mm {focus}" for pupil in PUPILS for focus in ("wavefront", "spot"))
LENGTH = (23.65, 1.35)  # mm, mean and spread of the axial length; settings, as all of these
DEPTH, DEEPER, DEPTH_SD = 3.1, 0.12, 0.3  # mm: chamber depth at the mean length, for each mm more, and its spread
LENS_A = 118.9  # of the invented lens
POSITION_SD = 0.25  # mm: how far a lens stands from where an eye of its length, depth and first K has it
DIAGNOSES = {"central": "keratoconus", "paracentral": "keratoconus"}  # the other kinds are called as the diagnosis
TRUE = ("true_length", "true_position", "label_error", "visit_error", "lens_turn", "cone_off")


def name(meaning: str, part: str) -> str:
    """The column of a part (mean, x, y) under a meaning."""
    return f"used_{meaning.replace(' mm ', '_')}_{part}"


def trace(eyes: int, seed: int) -> list[Line]:
    """So many eyes in all, the kinds in equal parts, in turn."""
    generator = np.random.Generator(np.random.PCG64(seed))
    each = max(eyes // len(kinds()), 1)
    found = [list(of_kind(draw(kind, each, generator), generator)) for kind in kinds()]
    return [line for lines in zip(*found, strict=True) for line in lines]


def of_kind(corneas: Corneas, generator: np.random.Generator) -> Iterator[Line]:
    """The lines of eyes behind such corneas: typed readings, what is true and not known, and what light used."""
    eyes = len(corneas)

    def some(mean: float, sd: float) -> np.ndarray:
        return mean + sd * np.clip(generator.standard_normal(eyes), -2.5, 2.5)

    readings = read(corneas, generator)
    length = some(*LENGTH)
    depth = DEPTH + DEEPER * (length - LENGTH[0]) + some(0, DEPTH_SD)
    true = {
        "true_length": length,
        "true_position": stands(length, depth, corneas.drawn["k"][:, 0]) + some(0, POSITION_SD),
        "label_error": some(0, CONSTANTS.sd_power),
        "visit_error": some(0, 1),  # in standard deviations: how much one is, a cone decides
        "lens_turn": some(0, float(np.hypot(CONSTANTS.sd_reference_mark, CONSTANTS.sd_alignment))),
        "cone_off": corneas.drawn["cone_off"][:, 0],
    }
    typed = {key: np.round(values, DIGITS.get(key.split("_")[0], 2)) for key, values in readings.items()}
    typed["map_center"] = typed["map_center"][:, 0]
    typed |= {"axial_length": np.round(length + some(0, CONSTANTS.sd_length_optical), 2), "acd": np.round(depth, 2)}
    for key in [key for key in typed if key.endswith("_axis")]:
        typed[key] = np.round(typed[key]) % 180
    columns = typed | true | used(corneas, length, true["true_position"])
    for at in range(eyes):
        yield {"kind": corneas.kind} | {key: values[at].tolist() for key, values in columns.items()}


DIGITS = {"back": 2, "thickness": 3, "map": 1}


def stands(length: np.ndarray, depth: np.ndarray, first_k: np.ndarray) -> np.ndarray:
    """Where the thin lens stands (mm) in an eye that had K before its cornea warped: the mean of three formulas.

    T2, Holladay 1 and Haigis, so that none of them is right by the bench's own making.
    """
    place = lens_position
    found = [
        place.position_sheard2010(length, first_k, LENS_A).position,
        place.position_holladay1988(length, first_k, place.surgeon_factor_holladay1988(LENS_A)).position,
        place.position_haigis2000(length, depth, place.a0_haigis2000(LENS_A)).position,
    ]
    return np.asarray(np.mean(found, axis=0))


def used(corneas: Corneas, length: np.ndarray, position: np.ndarray) -> dict[str, np.ndarray]:
    """What light used of each cornea under four meanings, from one tracing behind the lens that the ring asks for."""
    thin = vergence.corneal_power("Holladay 1", ring(corneas.front, 3.0).mean)
    strength = vergence.plano_power(thin, length, position)
    eye = Eye(corneas.front, corneas.back, IdealLens(power(strength), column(position)), column(length))
    wanted = vergence_at_cornea(strength, 0.0, 0.0, length, position)
    mean = (wanted[..., 0, 0] + wanted[..., 1, 1]) / 2
    found: dict[str, np.ndarray] = {}
    for diameter in PUPILS:
        pupil = Pupil(column(diameter), column(0.0), column(0.0))
        for focus, got in refractions(eye, pupil).items():
            parts = (mean - got.mean, -2 * got.j0, -2 * got.j45)
            meaning = f"{diameter:g} mm {focus}"
            found |= {name(meaning, part): value for part, value in zip(("mean", "x", "y"), parts, strict=True)}
    return found


def diagnosis(kind: str) -> str:
    """The key of the diagnosis that a clinic would type."""
    return DIAGNOSES.get(kind.split("_")[0], kind)


def as_table(lines: list[Line]) -> str:
    """The eyes as comma-separated text; what light made of them to 0.001 D."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(lines[0])
    writer.writerows([_text(value) for value in line.values()] for line in lines)
    return f"{NOTE}\n{text.getvalue()}"


def read_kept(path: Path = KEPT) -> list[Line]:
    """The kept eyes. Raises OSError."""
    rows = csv.DictReader(path.read_text(encoding="utf-8").splitlines()[1:])
    return [{key: text if key == "kind" else _value(text) for key, text in row.items()} for row in rows]


def numbers(lines: list[Line], key: str) -> np.ndarray:
    """A column."""
    return np.array([line[key] for line in lines], float)


def typed_eye(line: Mapping[str, Any]) -> Line:
    """What of a line is typed into the workbook."""
    return {key: value for key, value in line.items() if key != "kind" and key not in TRUE and key[:5] != "used_"}


def _text(value: Any) -> str:
    if isinstance(value, list):
        return " ".join(f"{part:g}" for part in value)
    return value if isinstance(value, str) else f"{round(value, 3):g}"


def _value(text: str) -> Any:
    parts = [float(part) for part in text.split()]
    return parts if len(parts) > 1 else parts[0]
