"""The cases whose results are kept from one release to the next: the invented patients of specs/cases/."""

from __future__ import annotations

from builder.engine.editions.record import Cases
from builder.engine.model import Model
from builder.planner.exchange.casefile import read_case
from builder.planner.exchange.read import WORD_LISTS


def kept_cases(model: Model) -> Cases:
    """What is typed in each of them. Raises CaseError."""
    files = sorted((model.spec.home / "cases").glob("*.toml"))
    return Cases({path.stem: read_case(model, path) for path in files}, WORD_LISTS)
