"""Judges the parts of a workbook without packing them; what a test left as it was is read once for all tests."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from unittest.mock import patch

from builder.engine.audit import sheets
from builder.engine.audit.sheet import SheetView
from builder.engine.audit.verify import Report, verify_package
from builder.engine.exchange.untrusted import TEXTS, Package, Refused, judged
from builder.engine.model import Model
from builder.planner import values
from tests.support.hostile import Parts

NAME = "sent.xlsx"
MOST = 300  # sheets that are kept
_open, _evaluate = sheets.open_sheet, values.evaluate_cases
_sheets: dict[tuple[str, str, bytes, bytes | None], SheetView] = {}
_evaluated: dict[tuple[str, str], object] = {}


def report_on(parts: Parts, lines: int | None = None) -> Report:
    """What `verify` says of a file with these parts."""
    with _remembering():
        try:
            return verify_package(judged(NAME, parts), lines)
        except Refused as refusal:
            return Report(NAME, None, str(refusal), ())


@contextmanager
def _remembering() -> Iterator[None]:
    """Sheets and texts with the same bytes are read once, and what is typed alike is computed once."""

    def open_sheet(package: Package, title: str, part: str, texts: Sequence[str], state: str = "visible") -> SheetView:
        key = title, state, package.parts[part], package.parts.get(TEXTS)
        if key not in _sheets:
            if len(_sheets) > MOST:
                _sheets.clear()
            _sheets[key] = _open(package, title, part, texts, state)
        return _sheets[key]

    def evaluated(model: Model, cases: list[dict[object, object]]) -> object:
        key = model.edition, repr(sorted((repr(place), repr(value)) for place, value in cases[0].items()))
        if key not in _evaluated:
            _evaluated[key] = _evaluate(model, cases)
        return _evaluated[key]

    with patch.object(sheets, "open_sheet", open_sheet), patch.object(values, "evaluate_cases", evaluated):
        yield
