"""Constants are passed and not kept at import: one changed in memory changes the cells and the reference alike.

What is expected is that the two, which share no code, still agree in every cell; by how much a result moves is the
business of the tests against print.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from builder.engine.model import Model, load_model
from builder.engine.witness.workbook import Witness
from builder.planner.books import PLAN, REGISTER
from builder.planner.reference.constants import CONSTANTS, Constants, held
from builder.planner.reference.keratometry import radius_of_k
from tests.support.witnesses import SHORT, compare, short_registers
from tests.support.workbooks import Typed, expected, typed_case

PLANNER = Path(__file__).resolve().parents[1] / "builder" / "planner"
CASES = ("1-cone-both-eyes", "3-six-radial-cuts", "every-limit", "ready")
MOVED = 1_000  # cells at least: the change reaches far
STEP = 1.003  # small enough that a limit stays beyond the one below it


def changed(model: Model, factors: Mapping[str, float]) -> Model:
    """The workbook with some constants multiplied, in memory; no file is touched."""
    constants = {
        key: replace(constant, value=constant.value * factors.get(key, 1.0))
        for key, constant in model.spec.constants.items()
    }
    return replace(model, spec=replace(model.spec, constants=constants))


def states(name: str, model: Model) -> dict[str, Typed]:
    return {case: typed_case(case) for case in CASES} if name == PLAN else short_registers(model)


@pytest.mark.parametrize("name", [PLAN, REGISTER])
def test_all_constants_changed_change_cells_and_reference_alike(name: str) -> None:
    model = load_model(name, lines=None if name == PLAN else SHORT)
    other, typed = changed(model, dict.fromkeys(model.spec.constants, STEP)), states(name, model)
    wanted = expected(other, list(typed.values()))
    found = compare(other, typed, Witness(other), wanted=wanted)
    assert not found.wrong, "\n".join(found.told(other))
    pairs = zip(wanted, expected(model, list(typed.values())), strict=True)
    assert sum(one[place] != was[place] for one, was in pairs for place in was) > MOVED


@pytest.mark.parametrize(
    ("key", "row"),
    [("index_aqueous", "lens_power"), ("population_k", "position_k"), ("vertex_of_formulas", "goal_at_cornea")],
)
def test_a_constant_changed_in_memory_is_followed(model: Model, key: str, row: str) -> None:
    """By what hangs on it, and no longer once it is put back."""
    typed = [typed_case("3-six-radial-cuts")]
    places = [slot.place for slot in model.layout.cells("eyes", row).values()]
    before, after = (
        expected(model, typed)[0],
        expected(changed(model, {key: 1.03}), typed)[0],
    )
    assert [after[place] for place in places] != [before[place] for place in places]
    assert expected(model, typed)[0] == before


def test_what_is_held_is_computed_with() -> None:
    """The radius of 45 D is 7.5 mm with the index 1.3375, and 1000 * 0.332 / 45 mm with the index 1.332."""
    assert radius_of_k(45.0) == pytest.approx(7.5, rel=1e-12)
    with held(Constants(keratometric_index=1.332)):
        assert radius_of_k(45.0) == pytest.approx(332 / 45, rel=1e-12)
        with pytest.raises(AttributeError, match="frozen"):
            CONSTANTS.keratometric_index = 1.0
    assert radius_of_k(45.0) == pytest.approx(7.5, rel=1e-12)


def kept_at_import(source: str) -> Iterator[int]:
    """The lines on which a module takes a constant as it is imported: at its top, in a class, in a default."""
    tree = ast.parse(source)
    later = {
        id(part)
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.Lambda)
        for body in (node.body if isinstance(node.body, list) else [node.body])
        for part in ast.walk(body)
    }
    for node in ast.walk(tree):
        named = isinstance(node, ast.Name) and node.id == "CONSTANTS" and isinstance(node.ctx, ast.Load)
        if named and id(node) not in later:
            yield node.lineno


@pytest.mark.parametrize("path", sorted(PLANNER.rglob("*.py")), ids=lambda path: path.relative_to(PLANNER).as_posix())
def test_no_module_keeps_a_constant_at_import(path: Path) -> None:
    assert list(kept_at_import(path.read_text("utf-8"))) == []


@pytest.mark.parametrize(
    "source",
    ["LIGHT = 1000 * CONSTANTS.index", "def f(x=CONSTANTS.index): ...", "class A:\n    x: float = CONSTANTS.index"],
)
def test_a_constant_kept_at_import_is_found(source: str) -> None:
    assert list(kept_at_import(source))
