"""A whole eye typed in a real window by keys alone: few keys, no dialog, each cell in sight, the plan of the case."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray

from builder.engine.exchange.cellvalues import Cells, read_values
from builder.engine.exchange.window import Window, window
from builder.engine.model import Model
from builder.planner.exchange.casefile import read_case
from tests.screen.typist import OPEN_LIST, Step, steps
from tests.support.filled import fill
from tests.support.workbooks import at, by_key, differences, expected

EYE = Path(__file__).parent / "eye.toml"
MOST_KEYS = 259
GRID = (slice(260, 710), slice(45, 620))  # of the screen: labels and typed cells, below the frozen lines
CELL, LIST = 60, 300  # lines of the screen that a change in one cell takes at most, and a list that opens below it


class Typed(NamedTuple):
    """What came of typing: keys, cells that were not in sight, windows beside the workbook's, the saved cells."""

    keys: int
    unseen: list[str]
    windows: set[str]
    cells: Cells


def _changed_lines(before: NDArray[np.uint8], after: NDArray[np.uint8]) -> int:
    """Lines of the screen from the first to the last that changed within the grid."""
    lines = np.flatnonzero((before[GRID] != after[GRID]).any(axis=(1, 2)))
    return int(lines[-1] - lines[0] + 1) if len(lines) else 0


def _changed_by(opened: Window, *keys: str) -> int:
    """Presses keys and waits for what they do; lines of the grid that they change."""
    before = opened.settled()
    opened.press(*keys)
    return _changed_lines(before, opened.settled(before))


def _type(opened: Window, step: Step) -> bool:
    """Types one cell; whether it was in sight: typing changed the screen, and there alone, so that nothing scrolled."""
    for keys in (step.way[:1], step.way[1:]):  # what leads there can open a box, which takes a moment
        if keys:
            _changed_by(opened, *_names(keys))
    if step.typed[0] == OPEN_LIST:
        lines, most = _changed_by(opened, OPEN_LIST), LIST
        _changed_by(opened, *step.typed[1:])
    else:
        *letters, last = _names(step.typed)
        if letters:
            _changed_by(opened, *letters)
        lines, most = _changed_by(opened, last), CELL
    _changed_by(opened, *step.end)
    return 0 < lines <= most


def _names(letters: tuple[str, ...]) -> list[str]:
    """The names of the keys of these letters."""
    return [{".": "period", "-": "minus", " ": "space"}.get(letter, letter) for letter in letters]


@pytest.fixture(scope="module")
def typed(model: Model, tmp_path_factory: pytest.TempPathFactory, screen: None) -> Typed:
    """The eye of the case typed into a blank workbook, once for all tests."""
    folder = tmp_path_factory.mktemp("eye")
    path = folder / "plan.xlsx"
    fill(model, {}, path)
    case = read_case(model, EYE)
    offered = expected(model, [case])[0]
    lenses = [offered[slot.place] for slot in model.layout.cells("lenses", "lens_offered").values()]
    keys, unseen = 0, list[str]()
    windows: set[str] = set()
    with window(path, folder) as opened:
        ours = opened.windows()
        for step in steps(model, case, lenses):
            if not _type(opened, step):
                unseen.append(step.slot.row.key)
            windows |= opened.windows() - ours
            keys += step.keys
        opened.save()
    return Typed(keys, unseen, windows, read_values(path))


def test_it_takes_few_keys(typed: Typed) -> None:
    """Every key from the opened workbook to the last cell, without saving."""
    assert typed.keys <= MOST_KEYS


def test_no_dialog_comes(typed: Typed) -> None:
    """Nothing is asked and nothing refused."""
    assert typed.windows == set()


def test_each_cell_is_in_sight_when_it_is_typed(typed: Typed) -> None:
    assert typed.unseen == []


def test_the_plan_is_that_of_the_case(model: Model, typed: Typed) -> None:
    """Each typed cell holds its value, each formula cell what the reference has for the case."""
    case = read_case(model, EYE)
    wanted = expected(model, [case])[0]
    wrong = [
        f"{place}: {typed.cells.get(at(model, place))!r}"
        for place, v in case.items()
        if typed.cells.get(at(model, place)) != v
    ]
    assert wrong + differences(model, wanted, typed.cells) == []


def test_only_the_invented_lens_keeps_the_plan_back(model: Model, typed: Typed) -> None:
    """All else that a plan needs was typed, and the first line says so."""
    wanted = expected(model, [read_case(model, EYE)])[0]
    assert by_key(model, wanted, "status", "right") == "check"
