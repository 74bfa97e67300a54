"""The same workbook whatever processor built it: linear algebra picks its kernel by the processor's features.

A process of its own builds with other features switched off, as an older processor would; the stored numbers then
differ in their last digits and nothing else may. The switches are those that numpy and OpenBLAS document.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from numpy._core._multiarray_umath import __cpu_dispatch__, __cpu_features__

from builder.engine.exchange.fill import fill
from builder.engine.model import load_model
from builder.engine.same import differences
from builder.engine.spec.reading import SPECS
from builder.planner.books import PLAN, REGISTER
from builder.planner.exchange.register import fill_register
from builder.planner.simulation.register import simulated_lines
from tests.support.workbooks import typed_case

HERE = [name for name in __cpu_dispatch__ if __cpu_features__[name]]  # what this processor has beyond the least
LINES = 12  # of the register, enough for every column
SCRIPT = """
import sys
from pathlib import Path
from numpy._core._multiarray_umath import __cpu_features__
from tests.test_processors import HERE, write
assert not HERE, HERE
write(Path(sys.argv[1]))
"""


def write(folder: Path) -> list[Path]:
    """The demo patient's workbook and a short register of invented eyes."""
    files = [folder / "plan.xlsx", folder / "register.xlsx"]
    fill(load_model(PLAN), typed_case("1-cone-both-eyes"), files[0])
    fill_register(load_model(REGISTER, lines=LINES), simulated_lines(load_model(PLAN))[:LINES], files[1])
    return files


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Those that this process writes."""
    return write(tmp_path_factory.mktemp("here"))


@pytest.mark.skipif(not HERE, reason="this processor has no features that could be switched off")
@pytest.mark.parametrize("kernel", ["Prescott", "Sandybridge"])
def test_another_processor_builds_the_same(files: list[Path], tmp_path: Path, kernel: str) -> None:
    other = {"OPENBLAS_CORETYPE": kernel, "NPY_DISABLE_CPU_FEATURES": " ".join(HERE)}
    subprocess.run(
        [sys.executable, "-c", SCRIPT, str(tmp_path)], check=True, cwd=SPECS.parent, env={**os.environ, **other}
    )
    assert [fault for path in files for fault in differences(tmp_path / path.name, path)] == []
