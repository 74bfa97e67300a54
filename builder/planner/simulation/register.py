"""The invented register's cases: drawn, planned by the reference, operated on, and kept as typed values."""

from __future__ import annotations

from typing import Any

from builder.engine.model import Model
from builder.engine.values import stored
from builder.planner.exchange.casefile import typed_cells
from builder.planner.gather.lines import Line, line_of
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.cells import Values
from builder.planner.simulation.eyes import Case, cases
from builder.planner.simulation.population import load_population
from builder.planner.simulation.store import read_simulated
from builder.planner.simulation.surgery import operate
from builder.planner.values import evaluate_cases

AGAIN = {
    "again_axial_length": "axial_length",
    "again_acd": "chamber_depth",
    "again_flat": "first_flat",
    "again_steep": "first_steep",
    "again_steep_axis": "first_steep_axis",
    "again_k_flat": "first_k_flat",
    "again_k_steep": "first_k_steep",
    "again_goal": "goal_refraction",
    "again_lens": "lens_choice",
    "again_back_flat_radius": "back_flat_radius",
    "again_back_steep_radius": "back_steep_radius",
    "again_incision_meridian": "incision_meridian",
}
UNREAD = 8  # one eye of so many is not typed again


def simulate(model: Model) -> list[Case]:
    """The cases of all invented patients with their follow-up; the same ones each time."""
    population = load_population()
    draws = population.draws()
    found = list(cases(population, draws, model.spec.words))
    slips = model.spec.lists["to_confirm"].keys
    for case in found:
        case["plan"]["again_file_number"] = case["plan"]["file_number"]
    first = _evaluate(model, found)
    for number, side, eye in _eyes(found):
        if not draws.happens(UNREAD):
            again = {key: stored(first.get("eyes", row)[number, side]) for key, row in AGAIN.items()}
            eye |= {key: value for key, value in again.items() if value is not None}
            told = stored(first.get("eyes", "radius_reading")[number, side])
            if told is not None:
                index = first.get("eyes", "radius_index")[number, side]
                eye["again_flat_radius"] = round(float(1000 * (index - 1) / told), 2)
            eye["checked_code"] = stored(first.get("eyes", "plan_code")[number, side])
    read = _evaluate(model, found)
    for number, side, eye in _eyes(found):
        eye["warnings_confirmed_by"] = "A. Simulated"
        eye["warnings_confirmed_code"] = stored(read.get("eyes", "warnings_code")[number, side])
        sentences = read.get("to_confirm", "slip_sentence")[number, side]
        eye["confirmed_slips"] = [key for key, told in zip(slips, sentences, strict=True) if told]
    planned = _evaluate(model, found)
    for number, side, eye in _eyes(found):
        eye |= operate(planned, number, side, draws, model.spec.words)
    judged = _evaluate(model, found)  # the other eye's visit changes what is warned of, so the code is read again
    for number, side, eye in _eyes(found):
        eye["warnings_confirmed_code"] = stored(judged.get("eyes", "warnings_code")[number, side])
    return found


def simulated_lines(model: Model) -> list[Line]:
    """The register lines of the kept cases, computed by the reference from what is typed."""
    found = read_simulated()
    values = _evaluate(model, found)
    lines = (line_of(model, values, number, eye) for number in range(len(found)) for eye in EYES)
    return [line for line in lines if line is not None]


def _evaluate(model: Model, found: list[Case]) -> Values:
    return evaluate_cases(model, [typed_cells(model, case) for case in found])


def _eyes(found: list[Case]) -> list[tuple[int, int, dict[str, Any]]]:
    return [
        (number, side, case[name])
        for number, case in enumerate(found)
        for side, name in enumerate(EYES)
        if name in case
    ]
