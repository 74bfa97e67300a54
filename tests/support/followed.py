"""Eyes after the operation, for the tests: a typed plan, a lens in the eye, and the refraction that optics expects."""

from __future__ import annotations

import copy
import tomllib
from typing import Any

import numpy as np

from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from builder.planner.reference import toric
from builder.planner.reference.plan.cells import Values
from builder.planner.values import evaluate_cases
from tests.support.workbooks import case_files

Case = dict[str, Any]


def case_of(name: str, **right: Any) -> Case:
    """A case file as tables, with more typed for the right eye."""
    case = tomllib.loads(case_files()[name].read_text(encoding="utf-8"))
    del case["about"]
    case["right"] |= right
    return copy.deepcopy(case)


def evaluate(model: Model, *cases: Case) -> Values:
    """The reference's values of cases."""
    return evaluate_cases(model, [typed_cells(model, case) for case in cases])


def sealed(model: Model, case: Case) -> Values:
    """The values of a case in which the code of today's plan is typed as the one operated by."""
    code = of_right(evaluate(model, case), "plan_code")[0]
    return evaluate(model, {**case, "right": {**case["right"], "operated_code": float(code)}})


def of_right(values: Values, *keys: str) -> list[Any]:
    """Rows of the right eye of the first case."""
    return [values.get("eyes", key)[0, 0] for key in keys]


def lens_cylinder_for(values: Values, effect: float) -> float:
    """The cylinder (D at the lens) of the implanted lens with an effect (D) at the cornea."""
    power, length, position = of_right(values, "fitted_power", "lead_optical_length", "fitted_position")
    return float(toric.ideal_cylinder_famlim2007(effect, power, length, position))


def refraction_of(values: Values, cornea: float, steep: Any, lens_cylinder: Any, marks: Any, at: Any = (0, 0)) -> Any:
    """Spectacles (12 mm) of an eye of the plan whose corneal cylinder (D) truly is steep at a meridian."""
    row = lambda key: values.get("eyes", key)[at]  # noqa: E731
    return toric.refraction_toric_langenbucher2004(
        row("lead_cornea"),
        cornea,
        steep,
        row("fitted_power"),
        lens_cylinder,
        marks,
        row("lead_optical_length"),
        row("fitted_position"),
    )


def least_cylinder(cylinder_of: Any, shape: tuple[int, ...]) -> tuple[np.ndarray, np.ndarray]:
    """The marks (degrees) that leave the least cylinder, and that cylinder (D): a search, no formula.

    cylinder_of(marks) gives the cylinder for marks (..., k); every second degree first, then ever narrower about the
    best one.
    """
    best, width = np.full((*shape, 1), 90.0), 90.0
    steps = np.linspace(-1.0, 1.0, 91)
    while width > 1e-3:
        tried = best + width * steps
        left = cylinder_of(tried)
        at = np.argmin(left, axis=-1)[..., None]
        best, least = np.take_along_axis(tried, at, axis=-1), np.take_along_axis(left, at, axis=-1)
        width /= 15
    return best[..., 0], least[..., 0]
