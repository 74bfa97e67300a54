"""Where a formula breaks, it is withheld in words, it alone, and the plan still stands."""

from typing import Any

import pytest

from builder.engine.layout import Place
from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from builder.planner.reference.plan.formulas import FORMULAS
from tests.support.workbooks import by_key, expected, typed_case


def _of(model: Model, cells: dict[Place, Any], key: str, eye: str) -> dict[str, Any]:
    """A row of the formulas, by formula."""
    slots = model.layout.cells("formulas", key)
    return {name: cells[slots[eye, name].place] for name in FORMULAS}


def _word(model: Model, key: str) -> str:
    return model.spec.words.get("word", key)


def test_a_missing_chamber_depth_withholds_haigis_only(model: Model) -> None:
    """Without ACD the other formulas keep their powers, Haigis has none and says why, and the plan stands."""
    cleared = {place: None for place in typed_cells(model, {"right": {"acd": 3.0, "again_acd": 3.0}})}
    before, after = expected(model, [typed_case("ready"), {**typed_case("ready"), **cleared}])
    for key in ("plano_power", "goal_power", "refraction_predicted"):
        with_depth, without = _of(model, before, key, "right"), _of(model, after, key, "right")
        assert without["haigis"] is None
        assert with_depth["haigis"] is not None
        assert {**without, "haigis": 0} == {**with_depth, "haigis": 0}
    assert _of(model, after, "formula_state", "right")["haigis"] == _word(model, "no_chamber_depth")
    assert by_key(model, after, "status", "right") == _word(model, "status_ready")


def test_srkt_past_its_root_gives_way_to_population_k(model: Model) -> None:
    """Where mean K is past SRK/T's root, population K gives the position by default, and the plan is released."""
    cells = expected(model, [typed_case("past-the-root")])[0]
    assert by_key(model, cells, "srkt_width_ratio", "left") < 2 < _ratio_at_mean_k(model, cells, "left")
    assert by_key(model, cells, "position_rule_used", "left") == model.spec.words.get("choice", "population")
    assert by_key(model, cells, "position_k", "left") == pytest.approx(43.86)  # holladay2003
    assert all(power is not None for power in _of(model, cells, "goal_power", "left").values())
    assert by_key(model, cells, "released", "left") == 1


def _ratio_at_mean_k(model: Model, cells: dict[Place, Any], eye: str) -> float:
    """Corneal width over radius at mean K, by the equation of SRK/T (retzlaff1990) written out here."""
    k, length = by_key(model, cells, "mean_k", eye), by_key(model, cells, "axial_length", eye)
    corrected = length if length <= 24.2 else -3.446 + 1.716 * length - 0.0237 * length**2
    return (-5.41 + 0.58412 * corrected + 0.098 * k) / (337.5 / k)


def test_srkt_kept_past_its_root_is_withheld_alone(model: Model) -> None:
    """With the position's K past the root, SRK/T alone has no power and says why; leading, it holds the plan back."""
    free = {place: None for place in typed_cells(model, {"left": {"lead_formula": "Haigis"}})}
    leading, other = expected(model, [typed_case("near-the-root"), {**typed_case("near-the-root"), **free}])
    for cells in (leading, other):
        powers = _of(model, cells, "goal_power", "left")
        assert powers.pop("srkt") is None
        assert all(power is not None for power in powers.values())
        assert _of(model, cells, "formula_state", "left")["srkt"] == _word(model, "past_root")
    assert by_key(model, leading, "status", "left") == _word(model, "status_not_ready")
    assert by_key(model, other, "released", "left") == 1


@pytest.mark.parametrize(
    ("case", "eye", "status"),
    [
        ("ready", "right", "ready"),
        ("ready", "left", "ready"),
        ("ready-after-confirmation", "right", "ready"),
        ("ready-after-confirmation", "left", "check"),
        ("differs", "right", "not_ready"),
        ("differs", "left", "check"),
        ("one-eye-only", "right", "not_used"),
        ("no-lens-reaches", "right", "not_ready"),
        ("typed-k", "right", "check"),
        ("typed-k", "left", "not_ready"),
        ("ectasia-after-laser", "left", "not_ready"),
        ("spherical-without-axes", "left", "check"),
        ("own-lens-incomplete", "left", "not_ready"),
        ("own-lens-refused", "right", "not_ready"),
        ("as-people-type", "right", "check"),
    ],
)
def test_status_of_a_case(model: Model, case: str, eye: str, status: str) -> None:
    """Each state is reached by a case of its own, for the reason that the case is about."""
    cells = expected(model, [typed_case(case)])[0]
    assert by_key(model, cells, "status", eye) == _word(model, f"status_{status}")
    assert by_key(model, cells, "released", eye) == (1 if status in ("ready", "check") else 0)
    assert (by_key(model, cells, "released_lens", eye) is None) == (status not in ("ready", "check"))
