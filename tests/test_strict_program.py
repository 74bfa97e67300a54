"""Nothing hangs on what programs treat each in its own way: TRIM within a text, and * ? ~ in a search.

Our own witness of the cells is made a program that leaves gaps within a text as they are and searches letter by letter;
every cell is still as the reference has it, but the place at which a search finds a star, which no other cell takes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from builder.engine.model import Model, load_model
from builder.engine.witness import lists, translate
from builder.engine.witness.operands import Fault, text
from builder.engine.witness.workbook import Witness
from builder.planner.books import REGISTER
from tests.support.spoilt import swept_workbooks
from tests.support.witnesses import SHORT, compare, short_registers
from tests.support.workbooks import Typed, typed_case

NAMED = ("gaps-within-names", "own-lens-names", "own-lens-names-alike", "own-lenses")
SWEPT = 4  # spoilt workbooks, each with a kind of rubbish in every input


@pytest.fixture(autouse=True)
def _strict(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    lists._pattern.cache_clear()
    monkeypatch.setattr(lists, "_pattern", lambda searched: re.compile(re.escape(searched), re.IGNORECASE))
    monkeypatch.setitem(translate.NAMES, "f_TRIM", lambda value: text(value).strip(" "))
    yield


def _states(model: Model) -> dict[str, Typed]:
    swept = [book for book in swept_workbooks(model) if any(kind == "wildcard" for _, kind, _ in book.pastes)][:SWEPT]
    named: dict[str, Typed] = {name: typed_case(name) for name in NAMED}
    return named | {f"swept {n}": {**typed_case(b.base), **b.pasted(model)} for n, b in enumerate(swept)}


def test_every_cell_of_names_with_gaps_and_signs(model: Model) -> None:
    states = _states(model)
    assert len(states) > len(NAMED)
    searched = [row.key for _, block in model.spec.blocks() for row in block.rows if row.key.startswith("place_")]
    found = compare(model, states, Witness(model), cliffs=dict.fromkeys(states, searched))
    assert not found.wrong, "\n".join(found.told(model))


def test_every_cell_of_spoilt_lines() -> None:
    model = load_model(REGISTER, lines=SHORT)
    found = compare(model, short_registers(model), Witness(model))
    assert not found.wrong, "\n".join(found.told(model))


def test_this_program_is_strict() -> None:
    """It neither closes a gap nor finds a word by a star."""
    (trimmed,) = translate.functions_of(translate.ready([translate.translate('TRIM(" a  b ")')]))
    assert trimmed([], []) == "a  b"
    with pytest.raises(Fault):
        lists.match("ab*", ("abc",), 0.0)
