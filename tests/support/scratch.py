"""A copy of a workbook with one more sheet of formulas, which read its cells and change none of them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import escape

from tests.support.hostile import RELATIONS, pack, parts_of

TITLE = "Scratch"
_PART = "xl/worksheets/scratch.xml"
_OPEN = (
    '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>'
    '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
)
_KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"
_RELATION = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet"


def with_formulas(source: Path, target: Path, formulas: Sequence[str]) -> Path:
    """The workbook with these formulas (without equals signs) in A1, A2, … of a last sheet named TITLE."""
    parts = parts_of(source)
    lines = "".join(
        f'<row r="{n}"><c r="A{n}"><f>{escape(formula)}</f></c></row>' for n, formula in enumerate(formulas, 1)
    )
    added = {
        "xl/workbook.xml": (b"</sheets>", f'<sheet name="{TITLE}" sheetId="999" r:id="rId999"/></sheets>'),
        RELATIONS: (
            b"</Relationships>",
            f'<Relationship Id="rId999" Type="{_RELATION}" Target="worksheets/scratch.xml"/></Relationships>',
        ),
        "[Content_Types].xml": (b"</Types>", f'<Override PartName="/{_PART}" ContentType="{_KIND}"/></Types>'),
    }
    for part, (old, new) in added.items():
        parts[part] = parts[part].replace(old, new.encode())
    parts[_PART] = f"{_OPEN}{lines}</sheetData></worksheet>".encode()
    return pack(parts, target)
