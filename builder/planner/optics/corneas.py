"""Corneas by kind and stage, drawn from the figures of specs/clinical/corneas.toml.

Front: a biconic with waves, a cone (a bell off the centre) and what laser or cuts took away (a flat bell). Back: a
biconic with a cone of its own. Lengths in mm, powers in D, angles in degrees.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from builder.planner.reference.constants import CONSTANTS

from .surfaces import Array, Bump, Part, Surface, Wave, biconic, column

CORNEAS = Path(__file__).resolve().parents[3] / "specs" / "clinical" / "corneas.toml"
RING = 3.0  # mm: the diameter of the ring on which a cone shows what it adds
LEAST_SHARE = 0.3  # of a cone's own curvature that the ring sees: for less a cone is raised no further
WIDEST = 2.5  # standard deviations: what lies further out is drawn in
FIGURES = (  # in the order in which they are drawn
    *("k", "cylinder", "steep", "q", "back_q", "ratio", "back_cylinder", "back_steep", "thickness", "coma", "trefoil"),
    *("cone", "cone_width", "cone_off", "cone_side", "cone_back", "flattening", "flattened"),
)
NEVER_BELOW_0 = ("cylinder", "back_cylinder", "cone", "cone_off", "flattening")


def keratometric() -> float:
    """Over a radius in mm: K."""
    return 1000 * (CONSTANTS.keratometric_index - 1)


def back_factor() -> float:
    """Over a radius of the back in mm: what it takes from the power."""
    return 1000 * (CONSTANTS.index_cornea - CONSTANTS.index_aqueous)


@dataclass(frozen=True)
class Corneas:
    """Corneas of one kind: front and back, thickness at the vertex (mm), shape (eyes, 1), and what was drawn."""

    kind: str
    front: Surface
    back: Surface
    thickness: Array
    drawn: Mapping[str, Array]

    def __len__(self) -> int:
        return len(self.thickness)


@cache
def figures() -> dict[str, Any]:
    """The tables of the file. Raises OSError, tomllib.TOMLDecodeError."""
    return tomllib.loads(CORNEAS.read_text(encoding="utf-8"))


def kinds() -> tuple[str, ...]:
    """The kinds that can be drawn: those that no stage divides."""
    table = figures()["kind"]
    return tuple(kind for kind in table if not any(other.startswith(f"{kind}_") for other in table))


def figures_of(kind: str) -> dict[str, dict[str, Any]]:
    """Every figure of a kind: its own, and those of the kind that it is like. KeyError for an unknown kind."""
    own = dict(figures()["kind"][kind])
    like = own.pop("like", None)
    return own if like is None else figures_of(like) | own


def draw(kind: str, eyes: int, generator: np.random.Generator) -> Corneas:
    """Corneas of a kind. KeyError for an unknown kind."""
    table = figures_of(kind)
    drawn = {}
    for key in FIGURES:
        far = np.clip(generator.standard_normal((eyes, 1)), -WIDEST, WIDEST)
        drawn[key] = table[key]["mean"] + table[key]["sd"] * far
        if key in NEVER_BELOW_0:
            drawn[key] = np.maximum(drawn[key], 0)
    crests = generator.uniform(0, 360, (2, eyes, 1))
    return Corneas(kind, _front(drawn, crests), _back(drawn), drawn["thickness"], drawn)


def _front(drawn: Mapping[str, Array], crests: Array) -> Surface:
    k, half, q = drawn["k"], drawn["cylinder"] / 2, drawn["q"]
    off = drawn["flattening"] * drawn["flattened"] ** 2 / keratometric()
    nowhere = column(0.0)
    parts: list[Part] = [
        biconic(keratometric() / (k - half), keratometric() / (k + half), drawn["steep"], q, q),
        Wave(drawn["coma"], crests[0], 1, 3),
        Wave(drawn["trefoil"], crests[1], 3, 3),
        Bump(-_height(drawn), drawn["cone_width"], *_middle(drawn)),
        Bump(off, drawn["flattened"], nowhere, nowhere),
    ]
    return Surface(_there(parts), nowhere)


def _back(drawn: Mapping[str, Array]) -> Surface:
    factor = back_factor()
    mean, half = factor * drawn["k"] / keratometric() / drawn["ratio"], drawn["back_cylinder"] / 2
    shape = biconic(
        factor / (mean - half), factor / (mean + half), drawn["back_steep"], drawn["back_q"], drawn["back_q"]
    )
    cone = Bump(-_height(drawn) * drawn["cone_back"], drawn["cone_width"], *_middle(drawn))
    return Surface(_there([shape, cone]), drawn["thickness"])


def _there(parts: list[Part]) -> list[Part]:
    """The parts without those that are flat in every eye: they cost time and change nothing."""
    return [part for part in parts if not isinstance(part, (Bump, Wave)) or np.any(part.height)]


def _height(drawn: Mapping[str, Array]) -> Array:
    """How high the cone stands on the front (mm): as high as it must to add what was drawn to the mean of the ring.

    A bell adds height / width^2 u (p - c) exp(-(p - c)^2 / (2 width^2)) / r to the axial curvature at a point p of
    the ring in direction u. A far cone reaches it with its flank only; it is raised for that to a limit.
    """
    angle = np.radians(np.arange(0, 360, 10.0))
    square, off = drawn["cone_width"] ** 2, drawn["cone_off"]
    outward = RING / 2 - off * np.cos(angle)
    apart = (RING / 2) ** 2 + off**2 - RING * off * np.cos(angle)
    share = (outward * np.exp(-apart / (2 * square))).mean(axis=1, keepdims=True) / (RING / 2)
    return drawn["cone"] * square / np.maximum(share, LEAST_SHARE) / keratometric()


def _middle(drawn: Mapping[str, Array]) -> tuple[Array, Array]:
    angle = np.radians(drawn["cone_side"])
    return drawn["cone_off"] * np.cos(angle), drawn["cone_off"] * np.sin(angle)
