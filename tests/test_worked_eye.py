"""An invented eye after radial cuts by every formula in every engine, against the equations written out here again."""

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from builder.engine.exchange.cellvalues import Cells, read_values
from builder.engine.model import Model
from builder.planner.exchange.read import arrange
from tests.support.filled import fill
from tests.support.workbooks import Typed, differences, expected, typed_case

LENGTH, DEPTH, K = 24.74, 3.07, (38.36 + 40.11) / 2
POSITION_K = 43.86  # population K after radial cuts (holladay2003)
GOAL = -0.75 / (1 + 0.012 * 0.75)  # at the cornea, from 12 mm


def _power(cornea: float, length: float, position: float) -> float:
    """Thin-lens vergence for the goal."""
    return 1336 / (length - position) - 1336 / (1336 / (cornea + GOAL) - position)


def _by_hand(lens: dict[str, float]) -> dict[str, float]:
    """The powers, equations from memory: retzlaff1990, holladay1988, hoffer1993, haigis2000, sheard2010."""
    r, rp = 337.5 / K, 337.5 / POSITION_K
    corrected = -3.446 + 1.716 * LENGTH - 0.0237 * LENGTH**2
    width = -5.41 + 0.58412 * corrected + 0.098 * POSITION_K
    srkt = rp - math.sqrt(rp**2 - width**2 / 4) + 0.62467 * lens["lens_a"] - 68.747 - 3.336
    chamber = min(12.5 * LENGTH / 23.45, 13.5)
    holladay = 0.56 + max(rp, 7) - math.sqrt(max(rp, 7) ** 2 - chamber**2 / 4) + lens["given_surgeon_factor"]
    hoffer = (
        lens["given_hoffer_pacd"]
        + 0.05
        + 0.3 * (LENGTH - 23.5)
        + math.tan(math.radians(POSITION_K)) ** 2
        - 0.1 * (23.5 - LENGTH) ** 2 * math.tan(math.radians(0.1 * (23.5 - LENGTH) ** 2))
        - 0.99166
    )
    haigis = lens["given_haigis_a0"] + lens["lens_haigis_a1"] * DEPTH + lens["lens_haigis_a2"] * LENGTH
    t2 = -10.326 + 0.32630 * LENGTH + 0.13533 * POSITION_K + 0.62467 * lens["lens_a"] - 68.747 - 3.336
    return {
        "srkt": _power(333 / r, LENGTH + 0.65696 - 0.02029 * LENGTH, srkt),
        "holladay1": _power(1000 / 3 / r, LENGTH + 0.2, holladay),
        "hofferq": _power(337.5 / r, LENGTH, hoffer),
        "haigis": _power(331.5 / r, LENGTH, haigis),
        "t2": _power(333 / r, LENGTH + 0.65696 - 0.02029 * LENGTH, t2),
    }


@pytest.fixture(scope="module")
def book(model: Model, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The eye, filled from its case file."""
    path = tmp_path_factory.mktemp("worked") / "eye.xlsx"
    fill(model, typed_case("worked-radial-cuts"), path)
    return path


def test_every_power_in_every_engine(model: Model, book: Path, computed: Callable[[Typed, Path], Cells]) -> None:
    """All powers stand in the workbook, stored and computed, and are those of the equations."""
    rows = {
        row.key: row.cells["example1"] for row in model.layout.block_of["lens_table"].rows if "example1" in row.cells
    }
    wanted = _by_hand(rows)
    typed = typed_case("worked-radial-cuts")
    for kind, cells in (("stored", read_values(book)), ("computed", computed(typed, book))):
        eye = arrange(cells)["right"]
        for name, power in wanted.items():
            assert eye[f"{name}_goal_power"] == pytest.approx(power, rel=1e-9), f"{name} in {kind}"
        assert not differences(model, expected(model, [typed])[0], cells)
