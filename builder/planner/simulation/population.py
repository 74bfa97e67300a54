"""The figures from which invented eyes are drawn, and the generator that draws them."""

from __future__ import annotations

import datetime
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from builder.engine.spec.reading import SPECS

POPULATION = SPECS / "clinical" / "population.toml"
WIDEST = 2.5  # standard deviations: what lies further out is drawn in


@dataclass(frozen=True)
class Group:
    """The persons of one diagnosis: how many, mean K and its spread, corneal cylinder and its spread (D)."""

    diagnosis: str
    persons: int
    mean_k: float
    sd_k: float
    cylinder: float
    sd_cylinder: float


@dataclass(frozen=True)
class Population:
    """Who comes, in which order, and how eyes and operations vary: mean and spread by key, in the figure's unit."""

    groups: tuple[Group, ...]
    figures: Mapping[str, tuple[float, float]]
    seed: int
    first_date: datetime.date
    days_between: int

    def draws(self) -> Draws:
        """A generator that starts again at the seed."""
        return Draws(self.figures, np.random.Generator(np.random.PCG64(self.seed)))


class Draws:
    """Draws one number at a time, so that a new figure does not disturb those drawn before it."""

    def __init__(self, figures: Mapping[str, tuple[float, float]], generator: np.random.Generator) -> None:
        self.figures, self.generator = figures, generator

    def figure(self, key: str) -> float:
        """One value of a figure, no further out than WIDEST."""
        return self.normal(*self.figures[key])

    def normal(self, mean: float, sd: float) -> float:
        """A normal deviate, no further out than WIDEST."""
        return mean + sd * float(np.clip(self.generator.standard_normal(), -WIDEST, WIDEST))

    def heavy(self, sd: float) -> float:
        """A deviate with heavier tails and this spread: Student's t with 5 degrees of freedom (idea of brogan2019)."""
        return sd * float(np.clip(self.generator.standard_t(5) / np.sqrt(5 / 3), -4, 4))

    def happens(self, one_in: float) -> bool:
        """Whether something that happens once in so many times happens now."""
        return bool(self.generator.random() * one_in < 1)

    def shuffled(self, items: list[Group]) -> list[Group]:
        """The items in another order."""
        return [items[at] for at in self.generator.permutation(len(items))]


def load_population(path: Path = POPULATION) -> Population:
    """The figures of a TOML file. Raises KeyError when a part is missing."""
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    groups = tuple(
        Group(*(row[key] for key in ("diagnosis", "persons", "mean_k", "sd_k", "cylinder", "sd_cylinder")))
        for row in table["group"]
    )
    figures = {row["key"]: (float(row["mean"]), float(row["sd"])) for row in table["figure"]}
    return Population(groups, figures, table["seed"], table["first_date"], table["days_between"])
