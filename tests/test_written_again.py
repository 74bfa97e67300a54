"""A workbook written again with other values is to the byte the one that is written whole."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from builder.engine.layout import Place
from builder.engine.model import Model, load_model
from builder.engine.spec.model import ErrorValue
from builder.engine.values import values_of_cases
from builder.engine.write import again
from builder.engine.write.workbook import write_workbook
from builder.planner.exchange.casefile import read_case
from builder.planner.exchange.register import register_cells
from tests.support.register_lines import invented_lines
from tests.support.workbooks import case_files

Typed = Mapping[Place, Any]
CASES = ("1-cone-both-eyes", "every-limit", "own-lens-names", "followup-five-visits")
ODD = ("sent & <kept>", " a space before", "a bell\x07", "OUTCOME", "D", 'he said "so"', "", 0.1 + 0.2, 1e-300, -0.0, 7)


def _cases(model: Model) -> list[Typed]:
    """The blank workbook, written first, then cases; of a register lines; then odd values in every typed cell."""
    inputs = [slot.place for slot in model.layout.slots if slot.row.input is not None]
    held = [*ODD, True, False, ErrorValue("#N/A"), ErrorValue("#DIV/0!"), None]
    odd = {place: held[number % len(held)] for number, place in enumerate(inputs)}
    if model.spec.name == "register":
        return [{}, register_cells(model, invented_lines(12, seed=5)), odd]
    return [{}, *(read_case(model, case_files()[name]) for name in CASES), odd]


@pytest.mark.parametrize("book", [("plan", "en", None), ("plan", "es", None), ("register", "en", 12)], ids=str)
def test_it_is_to_the_byte_what_is_written_whole(book: tuple[str, str, int | None], tmp_path: Path) -> None:
    name, language, lines = book
    model = replace(load_model(name, language, lines=lines))
    cases = _cases(model)
    whole, second = tmp_path / "whole.xlsx", tmp_path / "again.xlsx"
    for typed, values in zip(cases, values_of_cases(model, cases), strict=True):
        write_workbook(model, whole, values, typed)
        again.write(model, second, values, typed)
        assert second.read_bytes() == whole.read_bytes()


def test_a_changed_model_is_written_anew(model: Model, tmp_path: Path) -> None:
    """What one model wrote is no template for a changed copy of it."""
    values = next(iter(values_of_cases(model, [{}])))
    path = tmp_path / "first.xlsx"
    again.write(model, path, values, {})
    assert model.templates and not replace(model).templates
