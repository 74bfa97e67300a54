"""A sample in the compiled library formualizer: a reserve, should another engine of the suite be given up."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from builder.engine.exchange.cellvalues import Cells, read_values
from builder.engine.model import Model
from tests.support.filled import fill
from tests.support.hostile import pack, parts_of
from tests.support.workbooks import differences, expected, typed_case
from tests.test_dialect import TRIALS, same_as_expected, trial_book  # noqa: F401  a fixture

SAMPLE = ("1-cone-both-eyes", "every-limit", "followup-five-visits")
NONSENSE = "0.777"


def recalculated(path: Path) -> Cells:
    """The cells of a file as the library computes them; what its formula cells store is replaced by nonsense first."""
    library = pytest.importorskip("formualizer", reason="engine missing: formualizer is not installed")
    parts = parts_of(path)
    for name in parts:
        if name.startswith("xl/worksheets/sheet"):
            number = re.sub(rb' t="str"(?=><f>)', b"", parts[name])
            parts[name] = re.sub(rb"</f><v>[^<]*</v>|</f><v/>", f"</f><v>{NONSENSE}</v>".encode(), number)
    computed = path.with_name("computed.xlsx")
    library.recalculate_xlsx_file(str(pack(parts, path)), output=str(computed))
    return read_values(computed)


@pytest.mark.parametrize("case", SAMPLE)
def test_every_cell_is_as_the_reference_has_it(model: Model, case: str, tmp_path: Path) -> None:
    """Numbers to 1e-9 relative or absolute, words exactly."""
    path = tmp_path / "book.xlsx"
    fill(model, typed_case(case), path)
    found = differences(model, expected(model, [typed_case(case)])[0], recalculated(path))
    assert not found, "\n".join(found[:40])


def test_each_idiom_gives_the_expected_result(trial_book: Path) -> None:  # noqa: F811
    """The trials of the dialect."""
    values = recalculated(trial_book)
    wrong = [
        f"{text}: {values['Trials', f'A{row}']!r} instead of {wanted!r}"
        for row, (text, wanted) in enumerate(TRIALS, 1)
        if not same_as_expected(wanted, values["Trials", f"A{row}"])
    ]
    assert not wrong, "\n".join(wrong)
