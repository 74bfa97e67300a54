"""Planning workbooks as clinics send them: the invented eyes filled in, and copies with one cell changed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from builder.engine.exchange.untrusted import open_untrusted
from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from builder.planner.simulation.eyes import Case
from tests.support.filled import fill_many
from tests.support.hostile import pack

PERSONS = 10  # of the invented register, whose workbooks are sent


def write_cases(model: Model, cases: Sequence[Case], folder: Path) -> list[Path]:
    """One filled workbook a case, named by its file number."""
    paths = [folder / f"{case['plan']['file_number']}.xlsx" for case in cases]
    jobs = [(typed_cells(model, case), path) for case, path in zip(cases, paths, strict=True)]
    fill_many(model, jobs)
    return paths


def with_cell(source: Path, target: Path, title: str, address: str, inner: str, kind: str = "") -> Path:
    """A copy in which one cell holds something else: `inner` is its XML, such as "<f>1+1</f><v>2</v>"."""
    package = open_untrusted(source)
    part = dict(package.sheets)[title]
    cell = re.compile(rf'<c r="{address}"( s="\d+")?[^>]*?(?:/>|>.*?</c>)'.encode(), re.S)
    as_kind = f' t="{kind}"' if kind else ""
    new = rb'<c r="%s"\g<1>%s>%s</c>' % (address.encode(), as_kind.encode(), inner.encode())
    changed, found = cell.subn(new, package.parts[part], count=1)
    if not found:  # a cell that is not there yet: at the end of its row
        line = re.sub(r"\D", "", address)
        row = re.compile(rf'(<row r="{line}"(?:(?!</row>).)*)</row>'.encode(), re.S)
        new = rb'\g<1><c r="%s"%s>%s</c></row>' % (address.encode(), as_kind.encode(), inner.encode())
        changed, found = row.subn(new, package.parts[part], count=1)
    assert found, f"{title}!{address} is no cell of {source.name}"
    return pack(dict(package.parts) | {part: changed}, target)
