"""Case files against what they expect of an eye, in the reference and in the cells.

`[expect.right]` and `[expect.left]` were written from the clinical basis before they were compared: state, reasons and
silence by reading its rules for the case's inputs; power, cylinder and axis by `tests/support/second_opinion.py`,
which shares nothing with the workbook. `by` says how, and where a first reading was wrong or came late. A reason is
the key of a point (`specs/plan/16-points.toml`), whose sentence stands under `[point]` in the words; `silent` are
points that must not hold.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

import pytest

from builder.engine.layout import Place, Slot
from builder.engine.model import Model
from builder.engine.values import stored
from builder.planner.exchange.casefile import EXPECT, typed_cells
from builder.planner.reference.eyes import EYES
from builder.planner.values import evaluate_cases
from tests.support.second_opinion_lens import opinion
from tests.support.witnesses import witness
from tests.support.workbooks import case_files, typed_case

LEAST, EYES_AT_LEAST = 105, 209  # cases and eyes with expectations; more are welcome
RELEASED = {"power": "released_power", "cylinder": "released_cylinder", "axis": "released_axis"}
STATES = ("ready", "check", "not ready", "not used")
WRITTEN = 0.005 + 1e-6  # degrees: an axis is written to two decimals

Cells = Mapping[Place, Any]


def _expectations() -> dict[str, dict[str, dict[str, Any]]]:
    cases = {name: tomllib.loads(path.read_text(encoding="utf-8")) for name, path in case_files().items()}
    return {name: case[EXPECT] for name, case in cases.items() if EXPECT in case}


WANTED = _expectations()


@pytest.fixture(scope="module")
def slots(model: Model) -> dict[tuple[str, str], Slot]:
    """The cells asked for: by key, or by the key of a point, and eye ("" for a point of the whole plan)."""
    found = {}
    for slot in model.layout.slots:
        if slot.row.key in ("status", *RELEASED.values()) and slot.block.instances.name == "eyes":
            found[slot.row.key, slot.side] = slot
        if slot.row.key in ("point_live", "plan_point_live"):
            found[slot.instance, slot.side] = slot
    return found


@pytest.fixture(scope="module")
def places(slots: dict[tuple[str, str], Slot]) -> dict[tuple[str, str], Place]:
    """Where they stand."""
    return {key: slot.place for key, slot in slots.items()}


@pytest.fixture(scope="module")
def reference(model: Model, slots: dict[tuple[str, str], Slot]) -> Mapping[str, Cells]:
    """What the reference has in them, in every case that expects something, computed at once."""
    values = evaluate_cases(model, [typed_case(name) for name in WANTED])
    found: dict[str, dict[Place, Any]] = {name: {} for name in WANTED}
    for slot in slots.values():
        instances = slot.block.instances
        at = instances.place_of[slot.instance]
        index = (EYES.index(slot.side), at) if instances.per == "side" else (at,)
        array = values.get(instances.name, slot.row.key)
        for number, cells in enumerate(found.values()):
            cells[slot.place] = stored(array[(number, *index)])
    return found


def unlike(wanted: Mapping[str, Any], eye: str, places: Mapping[tuple[str, str], Place], cells: Cells) -> list[str]:
    """What an eye came to that it should not, in words."""
    found, state = [], cells[places["status", eye]]
    if wanted.get("state", state) != state:
        found.append(f"{eye} is '{state}', expected '{wanted['state']}'")
    for key, row in RELEASED.items():
        seen, number = cells[places[row, eye]], wanted.get(key)
        if key == "axis" and number is not None and isinstance(seen, float):
            right = abs((seen - number + 90) % 180 - 90) <= WRITTEN
        elif number is not None:
            right = isinstance(seen, (int, float)) and abs(seen - number) < 1e-9
        else:  # no lens without a release, no axis without a cylinder
            empty = wanted.get("state") in STATES[2:] or (key == "axis" and wanted.get("cylinder") == 0)
            right = not empty or seen in ("", None)
        if not right:
            found.append(f"{eye} {key} is {seen!r}, expected {number}")
    for point, live in [(p, 1) for p in wanted.get("reasons", ())] + [(p, 0) for p in wanted.get("silent", ())]:
        place = places.get((point, eye)) or places[point, ""]
        if cells[place] != live:
            found.append(f"{eye} point '{point}' is {cells[place]!r}, expected {live}")
    return found


def test_enough_cases_expect_something() -> None:
    """Each says how it was found; states are states; a released eye has a power, another none."""
    assert len(WANTED) >= LEAST and sum(map(len, WANTED.values())) >= EYES_AT_LEAST
    for name, eyes in WANTED.items():
        for eye, wanted in eyes.items():
            told = f"{name} {eye}"
            assert len(wanted.get("by", "")) > 20, told
            assert wanted.get("state", "ready") in STATES, told
            assert ("power" in wanted) == (wanted.get("state") not in STATES[2:]), told


def test_every_expectation_holds_in_the_reference(
    places: dict[tuple[str, str], Place], reference: Mapping[str, Cells]
) -> None:
    """State, lens, axis and points, of every case at once."""
    wrong = [
        f"{n}: {u}" for n, e in WANTED.items() for eye, w in e.items() for u in unlike(w, eye, places, reference[n])
    ]
    assert not wrong, "\n".join(wrong)


def test_every_expectation_holds_in_the_cells(places: dict[tuple[str, str], Place]) -> None:
    """The same from the formulas of the cells themselves."""
    wrong = []
    for name, eyes in WANTED.items():
        cells = witness().values(typed_case(name))
        wrong += [f"{name}: {line}" for eye, wanted in eyes.items() for line in unlike(wanted, eye, places, cells)]
    assert not wrong, "\n".join(wrong)


def test_the_figures_are_those_of_the_second_opinion() -> None:
    """No figure was copied from the workbook: each comes out of the calculation that knows nothing of it."""
    for name, eyes in WANTED.items():
        case = tomllib.loads(case_files()[name].read_text(encoding="utf-8"))
        for eye, wanted in eyes.items():
            if "power" in wanted:
                found = opinion(case, eye)
                assert (found.power, found.cylinder) == (wanted["power"], wanted.get("cylinder")), (name, eye)
                axis = None if found.axis is None else round(found.axis, 2)
                assert axis == wanted.get("axis"), (name, eye)


@pytest.mark.parametrize(
    ("key", "value"),
    [("state", "check"), ("power", 20.5), ("cylinder", 1.3), ("axis", 89.0), ("reasons", ["goal_deep"])],
)
def test_another_expectation_would_be_noticed(
    key: str, value: Any, places: dict[tuple[str, str], Place], reference: Mapping[str, Cells]
) -> None:
    """Each part by itself, in an eye that is as expected."""
    wanted = WANTED["ready"]["right"]
    assert not unlike(wanted, "right", places, reference["ready"])
    assert len(unlike({**wanted, key: value}, "right", places, reference["ready"])) == 1


def test_silence_and_emptiness_would_be_noticed(
    places: dict[tuple[str, str], Place], reference: Mapping[str, Cells]
) -> None:
    """A live point that should be silent; a released lens where nothing should be."""
    assert unlike({"silent": ["spread_very_wide"]}, "right", places, reference["fit-steep-and-apart"])
    assert len(unlike({"state": "not ready"}, "right", places, reference["ready"])) == 1 + len(RELEASED)


def test_what_is_expected_types_nothing(model: Model) -> None:
    """A case with expectations alone is an empty workbook."""
    assert typed_cells(model, {EXPECT: {"right": {"state": "ready", "by": "nothing"}}}) == {}
