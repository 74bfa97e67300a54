"""Right cases to be spoilt: invented eyes typed twice, planned with own lenses, nothing held back.

They are those of the simulated register before surgery. The lens table's examples stand as the clinic's own lenses
under other names, so that a plan is a patient's. Nothing here is a real person or a real lens.
"""

from __future__ import annotations

import copy
from typing import Any

from builder.engine.model import Model
from builder.engine.values import stored
from builder.planner.exchange.casefile import typed_cells
from builder.planner.reference.eyes import EYES
from builder.planner.reference.plan.cells import Values
from builder.planner.simulation.store import read_simulated
from builder.planner.values import evaluate_cases

Case = dict[str, Any]
OWN = {"Example Heron": "Clinic A", "Example Plover": "Clinic B", "Example Wren": "Clinic C"}
AFTERWARDS = ("visit", "implanted_lens", "implanted_power", "implanted_cylinder", "implanted_axis")
TERMS = {"surgeon_factor": "surgeon_factor", "hoffer_pacd": "hoffer_pacd", "haigis_a0": "haigis_a0"}


def evaluated(model: Model, cases: list[Case]) -> Values:
    """The reference's values of all cases."""
    return evaluate_cases(model, [typed_cells(model, case) for case in cases])


def own_lenses(model: Model) -> list[dict[str, Any]]:
    """The toric and spherical examples as lenses that the clinic typed, with all constants and cylinders."""
    values, found = evaluated(model, [{"plan": {}}]), []
    names = [str(name) for name in values.get("lenses", "lens_name")[0]]
    for at, name in enumerate(names):
        if name not in OWN:
            continue
        lens: dict[str, Any] = {"name": OWN[name], "kind": values.get("lenses", "lens_kind")[0, at]}
        keys = {"a_constant": "lens_a", "haigis_a1": "lens_haigis_a1", "haigis_a2": "lens_haigis_a2"}
        keys |= {key: f"lens_{key}" for key in (*TERMS, "power_from", "power_to", "power_step")}
        lens |= {key: round(float(values.get("lenses", row)[0, at]), 3) for key, row in keys.items()}
        sizes = [values.get("lenses", f"lens_cylinder{k}")[0, at] for k in range(1, 13)]
        cylinders = [float(size) for size in sizes if size == size]
        found.append(lens | ({"cylinders": cylinders} if cylinders else {}))
    return found


def confirmed(model: Model, cases: list[Case]) -> list[Case]:
    """The cases with the codes of their plans and warnings, as two careful persons type them."""
    for row, key in (("plan_code", "checked_code"), ("warnings_code", "warnings_confirmed_code")):
        values = evaluated(model, cases)
        for number, case in enumerate(cases):
            for side, name in enumerate(EYES):
                if name in case:
                    code = stored(values.get("eyes", row)[number, side])
                    case[name] |= {key: code} if code is not None else {}
    return cases


def right_cases(model: Model) -> list[Case]:
    """Every invented person of whom each eye is ready."""
    lenses, found = own_lenses(model), []
    for drawn in read_simulated():
        case: Case = copy.deepcopy(drawn)
        case["lens"] = copy.deepcopy(lenses)
        case["plan"]["file_number"] = case["plan"]["again_file_number"] = f"R{len(found) + 1:03d}"
        for name in EYES:
            eye = case.get(name, {})
            for key in AFTERWARDS:
                eye.pop(key, None)
            for key in ("lens", "again_lens"):
                if key in eye:
                    eye[key] = OWN[eye[key]]
            if "again_lens" in eye:
                eye["again_a_constant"] = next(lens["a_constant"] for lens in lenses if lens["name"] == eye["lens"])
        found.append(case)
    confirmed(model, found)
    states = evaluated(model, found).get("eyes", "status")
    return [
        case
        for number, case in enumerate(found)
        if all(states[number, side] == "ready" for side, name in enumerate(EYES) if name in case)
    ]
