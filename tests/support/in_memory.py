"""Judges the parts of a workbook without packing them; what a test left as it was is read and compared once for all."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from unittest.mock import patch

from builder.engine.audit import book, by_hand, cells, computing, drawings, rules, sheets, structure
from builder.engine.audit.verify import Report, verify_package
from builder.engine.exchange.untrusted import TEXTS, Package, Refused, judged
from builder.engine.model import Model
from builder.planner import values
from tests.support.hostile import Parts

NAME = "sent.xlsx"
MOST = 3000  # answers of one function that are kept
_evaluate = values.evaluate_cases
_evaluated: dict[tuple[str, str], object] = {}


def report_on(parts: Parts, lines: int | None = None) -> Report:
    """What `verify` says of a file with these parts."""
    with _remembering():
        try:
            return verify_package(judged(NAME, parts), lines)
        except Refused as refusal:
            return Report(NAME, None, str(refusal), ())


class _Remembered:
    """A function that gives the same of the same, asked once for the very same things, or for equal keys of them."""

    def __init__(self, home: object, name: str, key: Callable[..., Hashable] | None = None) -> None:
        self.home, self.name, self.asked = home, name, getattr(home, name)
        self.key = key or (lambda *given: tuple(map(id, given)))
        self.known: dict[Hashable, tuple[tuple[object, ...], object]] = {}

    def __call__(self, *given: object) -> object:
        key = self.key(*given)
        if key not in self.known:
            if len(self.known) > MOST:
                self.known.clear()
            self.known[key] = given, self.asked(*given)  # what was given is kept, so that no other gets its id
        return self.known[key][1]


def _part(package: Package, part: str) -> Hashable:
    return part, package.parts[part]


def _sheet(package: Package, title: str, part: str, _: Sequence[str], state: str = "visible") -> Hashable:
    return title, state, package.parts[part], package.parts.get(TEXTS)


REMEMBERED = (
    _Remembered(sheets, "open_sheet", _sheet),
    _Remembered(sheets, "part_tree", _part),
    _Remembered(book, "part_tree", _part),
    _Remembered(drawings, "part_tree", _part),
    _Remembered(book, "read_styles"),
    _Remembered(drawings, "read_chart"),
    _Remembered(drawings, "_sound"),
    _Remembered(by_hand, "structure_of", lambda data: data),
    _Remembered(computing, "computing_of_sheet"),
    _Remembered(cells, "cells_of_sheet"),
    _Remembered(rules, "rules_of_sheet"),
    _Remembered(structure, "structure_of_sheet"),
)


@contextmanager
def _remembering() -> Iterator[None]:
    """What a test left as it was is read and compared once, and what is typed alike is computed once."""

    def evaluated(model: Model, cases: list[dict[object, object]]) -> object:
        key = model.edition, repr(sorted((repr(place), repr(value)) for place, value in cases[0].items()))
        if key not in _evaluated:
            _evaluated[key] = _evaluate(model, cases)
        return _evaluated[key]

    with ExitStack() as patched:
        for function in REMEMBERED:
            patched.enter_context(patch.object(function.home, function.name, function))
        patched.enter_context(patch.object(values, "evaluate_cases", evaluated))
        yield
