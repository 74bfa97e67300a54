"""Workbooks in which a careless reader would find other values than a spreadsheet program shows."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from tests.support.hostile import Parts

SPACE = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SPACE_CODED = SPACE.removesuffix("n") + "&#110;"  # the same in XML, and no search for its letters finds it
TEXTS, BOOK, RELATIONS = "xl/sharedStrings.xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels"
FORGED = "31.25"  # a length of the eye within its limits


@dataclass(frozen=True)
class Spots:
    """Where a copy is changed: the part of the sheet of readings, a typed number on it, a formula's cell, a text."""

    sheet: str
    typed: str
    computed: str
    text: str  # of a drop-down, as it stands among the shared texts
    other_text: str


Deceit = Callable[[Parts, Spots], Parts]
DECEITS: dict[str, Deceit] = {}


def deceit(change: Deceit) -> Deceit:
    """Enters a way of deceiving into the table."""
    DECEITS[change.__name__.replace("_", " ")] = change
    return change


def _sub(parts: Parts, part: str, pattern: str, new: str | Callable[[re.Match[str]], str]) -> Parts:
    text, found = re.subn(pattern, new, parts[part].decode(), count=1, flags=re.DOTALL)
    assert found, f"{pattern} is not in {part}"
    return parts | {part: text.encode()}


def _cell(address: str) -> str:
    return rf'<c r="{address}"(?: [^<>]*?)?(?:/>|>(?:(?!</c>).)*</c>)'


def _table(parts: Parts, spots: Spots) -> tuple[str, str, str]:
    """What stands before the table of cells, its lines, and what stands after it."""
    head, _, rest = parts[spots.sheet].decode().partition("<sheetData>")
    lines, _, tail = rest.partition("</sheetData>")
    return head, lines, tail


def _forged(lines: str, spots: Spots) -> str:
    """The lines with the number that programs would show, written so that a search for '<c ' finds no cell."""
    new, found = re.subn(_cell(spots.typed), f'<c r="{spots.typed}"><v>{FORGED}</v></c>', lines, count=1)
    assert found
    return new.replace("<c ", "<c\n")


def _hidden(parts: Parts, spots: Spots, before: str, after: str) -> Parts:
    """The good table where programs do not look, the forged one behind it."""
    head, lines, tail = _table(parts, spots)
    table = f"<sheetData >{_forged(lines, spots)}</sheetData >"
    return parts | {spots.sheet: f"{head}{before}<sheetData>{lines}</sheetData>{after}{table}{tail}".encode()}


@deceit
def a_good_table_in_a_comment(parts: Parts, spots: Spots) -> Parts:
    return _hidden(parts, spots, "<!-- ", " -->")


@deceit
def a_good_table_in_an_instruction(parts: Parts, spots: Spots) -> Parts:
    return _hidden(parts, spots, "<?good ", "?>")


@deceit
def a_good_table_among_letters(parts: Parts, spots: Spots) -> Parts:
    return _hidden(parts, spots, "<oddHeader><![CDATA[", "]]></oddHeader>")


@deceit
def a_second_table(parts: Parts, spots: Spots) -> Parts:
    return _hidden(parts, spots, "", "")


@deceit
def a_good_table_of_another_name(parts: Parts, spots: Spots) -> Parts:
    """The first table is of a namespace that no program knows."""
    return _hidden(parts, spots, '<zz:a xmlns:zz="urn:x" xmlns="urn:x">', "</zz:a>")


@deceit
def the_table_wrapped_for_other_programs(parts: Parts, spots: Spots) -> Parts:
    head, lines, tail = _table(parts, spots)
    space = "http://schemas.openxmlformats.org/markup-compatibility/2006"
    before = f'<mc:AlternateContent xmlns:mc="{space}"><mc:Fallback>'
    return parts | {
        spots.sheet: f"{head}<sheetData>{lines}</sheetData>{before}<sheetData >{_forged(lines, spots)}</sheetData >"
        f"</mc:Fallback></mc:AlternateContent>{tail}".encode()
    }


@deceit
def a_formula_and_then_a_value(parts: Parts, spots: Spots) -> Parts:
    value = f'<c r="{spots.computed}"><v>{FORGED}</v></c>'
    return _sub(parts, spots.sheet, _cell(spots.computed), lambda found: found[0] + value)


@deceit
def a_value_and_then_a_formula(parts: Parts, spots: Spots) -> Parts:
    value = f'<c r="{spots.computed}"><v>{FORGED}</v></c>'
    return _sub(parts, spots.sheet, _cell(spots.computed), lambda found: value + found[0])


@deceit
def a_typed_cell_twice(parts: Parts, spots: Spots) -> Parts:
    value = f'<c r="{spots.typed}"><v>{FORGED}</v></c>'
    return _sub(parts, spots.sheet, _cell(spots.typed), lambda found: found[0] + value)


@deceit
def a_typed_cell_once_more_with_a_prefix(parts: Parts, spots: Spots) -> Parts:
    value = f'<x:c r="{spots.typed}"><x:v>{FORGED}</x:v></x:c>'
    parts = _sub(parts, spots.sheet, "<worksheet ", f'<worksheet xmlns:x="{SPACE_CODED}" ')
    return _sub(parts, spots.sheet, _cell(spots.typed), lambda found: found[0] + value)


@deceit
def a_cell_of_another_namespace(parts: Parts, spots: Spots) -> Parts:
    """Programs pass it over; the cell before it is the one they show."""
    value = f'<zz:c xmlns:zz="urn:x" r="{spots.typed}"><zz:v>{FORGED}</zz:v></zz:c>'
    return _sub(parts, spots.sheet, _cell(spots.typed), lambda found: found[0] + value)


@deceit
def a_formula_of_another_kind(parts: Parts, spots: Spots) -> Parts:
    return _sub(
        parts,
        spots.sheet,
        _cell(spots.computed),
        lambda found: found[0].replace("<f>", f"<f t ='array' ref='{spots.computed}'>"),
    )


@deceit
def a_number_that_only_one_language_reads(parts: Parts, spots: Spots) -> Parts:
    return _sub(parts, spots.sheet, _cell(spots.typed), f'<c r="{spots.typed}"><v>2_4.5</v></c>')


@deceit
def a_number_and_a_text_in_one_cell(parts: Parts, spots: Spots) -> Parts:
    both = f'<c r="{spots.typed}" t="n"><v>24</v><is><t>{FORGED}</t></is></c>'
    return _sub(parts, spots.sheet, _cell(spots.typed), both)


@deceit
def a_number_of_no_kind(parts: Parts, spots: Spots) -> Parts:
    return _sub(parts, spots.sheet, _cell(spots.typed), f'<c r="{spots.typed}" t="zz"><v>{FORGED}</v></c>')


@deceit
def a_text_in_a_comment(parts: Parts, spots: Spots) -> Parts:
    """All texts behind it have other numbers for who counts it."""
    return _sub(parts, TEXTS, "<si>", f"<!--<si><t>{spots.other_text}</t></si>--><si>")


@deceit
def a_text_of_another_namespace(parts: Parts, spots: Spots) -> Parts:
    return _sub(parts, TEXTS, "<si>", '<zz:si xmlns:zz="urn:x"><zz:t>x</zz:t></zz:si><si>')


@deceit
def texts_in_another_part(parts: Parts, spots: Spots) -> Parts:
    """The part at the usual place is a decoy."""
    other = parts[TEXTS].replace(f"<t>{spots.text}<".encode(), f"<t>{spots.other_text}<".encode())
    assert other != parts[TEXTS]
    parts = parts | {"xl/texts.xml": other}
    parts = _sub(parts, "[Content_Types].xml", "/xl/sharedStrings.xml", "/xl/texts.xml")
    return _sub(parts, RELATIONS, '"sharedStrings.xml"', '"texts.xml"')


def _other_sheet(parts: Parts, spots: Spots) -> Parts:
    """A forged copy of the sheet of readings, in a part of its own."""
    head, lines, tail = _table(parts, spots)
    forged = f"{head}<sheetData>{_forged(lines, spots)}</sheetData>{tail}"
    forged = re.sub("<(drawing|legacyDrawing) [^<>]*/>", "", forged)
    kind = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet"
    relation = f'<Relationship Id="rId990" Type="{kind}" Target="worksheets/sheet99.xml"/></Relationships>'
    content = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"
    override = f'<Override PartName="/xl/worksheets/sheet99.xml" ContentType="{content}"/></Types>'
    parts = _sub(parts, RELATIONS, "</Relationships>", relation)
    return _sub(parts, "[Content_Types].xml", "</Types>", override) | {"xl/worksheets/sheet99.xml": forged.encode()}


@deceit
def two_sheets_of_one_name(parts: Parts, spots: Spots) -> Parts:
    """Programs take the first and rename the second."""
    forged = '<sheets><sheet name="Readings" sheetId="99" r:id="rId990"/>'
    return _sub(_other_sheet(parts, spots), BOOK, "<sheets>", forged)


@deceit
def a_sheet_listed_where_no_program_looks(parts: Parts, spots: Spots) -> Parts:
    """The sheet that programs show under this name is another."""
    good = re.search('<sheet name="Readings"[^<>]*>', parts[BOOK].decode())
    assert good
    parts = _sub(_other_sheet(parts, spots), BOOK, '(<sheet name="Readings"[^<>]*)r:id="rId\\d+"', r'\1r:id="rId990"')
    return _sub(parts, BOOK, "</workbook>", f'<extLst><ext uri="x">{good[0]}</ext></extLst></workbook>')


@deceit
def a_relation_twice(parts: Parts, spots: Spots) -> Parts:
    """The sheet's name leads to two parts."""
    name = re.search('<sheet name="Readings"[^<>]*r:id="(rId\\d+)"', parts[BOOK].decode())
    assert name
    return _sub(_other_sheet(parts, spots), RELATIONS, 'Id="rId990"', f'Id="{name[1]}"')


@deceit
def days_counted_from_1904(parts: Parts, spots: Spots) -> Parts:
    """Every date that is typed is shown as one four years later."""
    return _sub(parts, BOOK, "<workbookPr ", '<workbookPr date1904="1" ')
