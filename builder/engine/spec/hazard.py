"""One line of the risk file, as plain data."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Hazard:
    """A line of the risk file: a potential source of harm, its controls, and who bears the residual risk.

    `number`: its own for ever. `points`, `rows`, `constants` (marked as from memory), `says` (texts of the words) and
    `tests` (file::test) are its controls; in all but the texts and tests `*` stands for any letters.
    """

    key: str
    number: int
    group: str
    harm: str
    severity: str
    points: tuple[str, ...] = ()
    rows: tuple[str, ...] = ()
    constants: tuple[str, ...] = ()
    says: tuple[str, ...] = ()
    tests: tuple[str, ...] = ()
    left_to: str = ""
