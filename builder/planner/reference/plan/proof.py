"""The sheet of proof: the examples, and each check of what they should give.

What is computed is the same for every patient.

Another method: the discs by Gauss-Legendre (corneal_map), where the cells take fixed weights; the other examples as
their modules name it.
An echo: differences against what is allowed, and their count, as the cells compute them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from builder.engine.spec.words import Words
from builder.planner.reference import corneal_map
from builder.planner.reference.constants import CONSTANTS
from builder.planner.reference.plan.cells import Values, flag, select, there
from builder.planner.reference.plan.examples import EXAMPLES, Given


@dataclass(frozen=True)
class Check:
    """A cell to be checked (list, row, place in the list) and what it should be, with what is allowed."""

    owner: str
    row: str
    place: int
    expected: float
    allowed: float


def examples(values: Values, words: Words, given: Mapping[str, Given], patients: int) -> None:
    """The computed rows of every example list. KeyError for a list that is not known here."""
    center, rings = given["disc_examples"]["map_center_power"], given["ring_examples"]["ring_mean"][None]
    for key, count in (("disc3_mean", 3), ("disc4_mean", 4)):
        mean = corneal_map.disc_mean(center, rings[:, :count])
        values.put("disc_examples", **{key: np.broadcast_to(mean, (patients, 1))})
    for name, cells in given.items():
        for key, row in EXAMPLES[name](cells, words).items():
            values.put(name, **{key: np.broadcast_to(row, (patients, len(row)))})


def checks(values: Values, words: Words, asked: Sequence[Check]) -> None:
    """Every check's computed value, how far it is off, and the verdict."""
    columns = []
    for check in asked:
        row = values.get(check.owner, check.row)
        columns.append(row if row.ndim == 1 else row[:, check.place])
    computed = np.stack(columns, axis=-1).astype(float)
    off = np.abs(computed - np.array([check.expected for check in asked]))
    right = off <= np.array([check.allowed for check in asked]) + CONSTANTS.rounding_slack
    agrees = select([(~there(off), ""), (right, words.get("word", "proof_yes"))], words.get("word", "proof_no"))
    values.put("checks", check_computed=computed, check_difference=off, check_agrees=agrees)
    count = flag(right).sum(axis=-1)
    said = [
        words.get("word", "proof_right" if n == len(asked) else "proof_wrong")
        + f"{n:.0f}{words.get('word', 'proof_of')}{len(asked)}{words.get('word', 'proof_end')}"
        for n in count
    ]
    made = np.full(count.shape, float(len(asked)))
    values.put("plan", checks_made=made, checks_right=count, proof_said=np.array(said, dtype=object))
