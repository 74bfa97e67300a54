"""Drawn changes of a workbook's XML end as found or refused, or LibreOffice shows every value as before.

A small sample of `python -m tests.seen`, which draws as many as are asked for and prints the pages too.
"""

from __future__ import annotations

import random
from pathlib import Path

from builder.engine.audit.verify import CLEAN
from builder.engine.exchange.engines import shown_on_opening
from builder.engine.model import Model
from tests.seen.drawn import draw
from tests.support.filled import fill
from tests.support.hostile import pack, parts_of
from tests.support.in_memory import report_on
from tests.support.workbooks import typed_case

CHANGES, SEED = 30, 19


def test_a_drawn_change_is_found_or_changes_no_value(model: Model, libreoffice: str, tmp_path: Path) -> None:
    """No other end, such as an error of the program; what passes as clean is shown as the good file is."""
    del libreoffice
    good_file = tmp_path / "good.xlsx"
    fill(model, typed_case("ready"), good_file)
    good, chance, clean = parts_of(good_file), random.Random(SEED), []
    for number in range(CHANGES):
        told, parts = draw(good, chance)
        if parts != good and report_on(parts).verdict == CLEAN:
            clean.append((told, pack(parts, tmp_path / f"{number}.xlsx")))
    assert 0 < len(clean) < CHANGES // 2
    wanted, *shown = shown_on_opening([good_file, *(path for _, path in clean)])
    for (told, _), cells in zip(clean, shown, strict=True):
        assert cells == wanted, told
