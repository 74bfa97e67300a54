"""What a person would see otherwise is found after another program has saved the file too.

A small sample of `python -m tests.saved_deceits`, which takes the whole catalogue and more programs.
"""

from __future__ import annotations

from pathlib import Path

from builder.engine.exchange.gnumeric import convert
from builder.engine.model import Model
from tests.saved_deceits import deceived, ends
from tests.support.filled import fill
from tests.support.hostile import parts_of
from tests.support.workbooks import typed_case

SAMPLE = ("the dials of the eyes exchanged", "x and y exchanged", "no usual height of lines")


def test_a_deceit_is_found_in_a_file_that_gnumeric_saved(model: Model, gnumeric: str, tmp_path: Path) -> None:
    """None of these is lost in saving, so each must be found."""
    del gnumeric
    good = tmp_path / "good.xlsx"
    fill(model, typed_case("ready"), good)
    parts = parts_of(good)
    assert dict(ends(deceived(model, parts, SAMPLE), parts, convert)) == dict.fromkeys(SAMPLE, "found")
