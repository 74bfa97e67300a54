"""The worked examples of DEVELOPERS.md name what is there, and print no number that the next row makes untrue.

Expected is what the file itself says; that the commands give it was seen by running them.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from builder.engine.model import Model
from builder.engine.spec.shapes import LEVELS

ROOT = Path(__file__).resolve().parents[1]
TEXT = (ROOT / "DEVELOPERS.md").read_text("utf-8")
START = TEXT[TEXT.index("## Change a constant") : TEXT.index("# Reference")]
WARNING = TEXT[TEXT.index("### Add a warning") : TEXT.index("**When `output/` is committed**")]
MADE = {"tests/cases/opening-beyond-optic.toml"}  # by the example


@pytest.mark.parametrize("text", [START, WARNING], ids=["constant and row", "warning"])
def test_every_file_that_an_example_names_is_there(text: str) -> None:
    named = {*re.findall(r"\b(?:specs|builder|tests)/[\w/.-]+\.(?:toml|po|py|txt)\b", text)} - MADE
    assert len(named) > 2
    assert [name for name in sorted(named) if not (ROOT / name).exists()] == []


def test_no_count_of_cells_stands_in_an_example() -> None:
    for text in (START, WARNING):
        assert ": agree" in text
        assert not re.search(r"states, [\d,]+ cells|edition \d[\d.]*-[0-9a-f]{8}", text)


def test_the_constant_is_what_the_example_says(model: Model) -> None:
    key, old, new = re.search(r"(\w+): (\d+) is now (\d+)", START).groups()  # type: ignore[union-attr]
    constant = model.spec.constants[key]
    assert (constant.value, f"`value = {new}` for `value = {old}`" in START) == (float(old), True)
    assert f" | {key} | constant | {old} {constant.unit} | locked" in START


def test_the_row_stands_where_the_example_says(model: Model) -> None:
    block, after = re.search(r"in the block `(\w+)`, as the line after `(\w+)`", START).groups()  # type: ignore[union-attr]
    keys = [row.key for row in model.layout.block_of[block].rows]
    formula = re.search(r'formula = "(\w+)-(\w+)"', START)
    assert after in keys and formula and {*formula.groups()} <= {*model.layout.lists_of}


def test_the_warning_reads_rows_that_are_there(model: Model) -> None:
    names = ("level", "hazard", "live", "cell")
    told = (re.search(rf'^   {name} = "(.*)"$', WARNING, re.MULTILINE) for name in names)
    level, hazard, live, cell = (found[1] for found in told if found)
    known = {*model.layout.lists_of, *model.spec.constants}
    assert level in LEVELS and hazard in {one.key for one in model.spec.hazards}
    assert f"typed_{cell}" in known and set(re.findall(r"[a-z]\w{5,}", live)) <= known
