"""Damaged and malicious copies of a good workbook, always the same ones: drawn with a seed, and nasty ideas."""

from __future__ import annotations

import io
import random
import re
import zipfile
from collections.abc import Iterator

from tests.support.hostile import SPOILT, Parts

SEED = 20
TEXTS = "xl/sharedStrings.xml"
Damage = tuple[str, bytes]  # what was done, the file
_LIST_AREA = "A1:XFD1048576"


def damaged(
    parts: Parts, inputs: list[tuple[str, str]], searched: tuple[str, str], formula_list: str
) -> Iterator[Damage]:
    """All files. `inputs`: worksheet part and address of typed cells, `searched` the one that is looked up
    among the names of lenses; `formula_list`: the part of the formula list."""
    chance = random.Random(SEED)
    good = _zipped(parts)
    for number in range(12):
        yield f"cut short {number}", good[: chance.randrange(1, len(good))]
    for number in range(30):
        yield f"bytes changed {number}", _flipped(chance, good, chance.choice((1, 3, 30)))
    names = sorted(parts)
    for number in range(40):
        name = chance.choice(names)
        changed = _flipped(chance, parts[name], chance.choice((1, 1, 2, 10)))
        yield f"{name} changed {number}", _zipped(parts | {name: changed})
    for _ in range(15):
        one, other = chance.sample(names, 2)
        yield f"{one} and {other} swapped", _zipped(parts | {one: parts[other], other: parts[one]})
    for name in chance.sample(names, 12):
        yield f"{name} gone", _zipped({key: data for key, data in parts.items() if key != name})
    for name in chance.sample(names, 8):
        yield f"{name} empty", _zipped(parts | {name: b""})
        yield f"{name} cut short", _zipped(parts | {name: parts[name][: len(parts[name]) // 2]})
    for name, (_, spoil) in SPOILT.items():
        yield name, _zipped(spoil(dict(parts)))
    for name, cell in _cells():
        part, address = chance.choice(inputs)
        yield f"a cell: {name}", _zipped(_with_cell(parts, part, address, cell))
    for name, cell in _cells():
        if "wildcards" in name:  # where a text is looked up among names
            yield f"a name: {name}", _zipped(_with_cell(parts, *searched, cell))
    for name, part, old, new in _around(formula_list):
        text, count = re.subn(old.encode(), lambda _, new=new: new.encode(), parts[part], count=1, flags=re.DOTALL)
        assert count, name
        yield name, _zipped(parts | {part: text})
    yield "letters that are no UTF-8", _zipped(parts | {TEXTS: parts[TEXTS].replace(b"<t>", b"<t>\xff", 1)})
    yield "areas of a whole sheet in the formula list", _zipped(parts | _with_areas(parts, _LIST_AREA))
    yield "areas that are none in the formula list", _zipped(parts | _with_areas(parts, "nowhere"))
    yield "areas turned round in the formula list", _zipped(parts | _with_areas(parts, "Z9:A1"))
    yield "whole lines in the formula list", _zipped(parts | _with_areas(parts, "1:2"))


def _zipped(parts: Parts) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return out.getvalue()


def _flipped(chance: random.Random, data: bytes, count: int) -> bytes:
    changed = bytearray(data)
    for _ in range(count if data else 0):
        changed[chance.randrange(len(changed))] = chance.randrange(256)
    return bytes(changed)


def _with_cell(parts: Parts, part: str, address: str, cell: str) -> Parts:
    pattern = rf'<c r="{address}"(?: [^>]*?)?(?:/>|>(?:(?!</c>).)*</c>)'.encode()
    text, count = re.subn(pattern, lambda _: cell.replace("@", address).encode(), parts[part], count=1, flags=re.DOTALL)
    assert count, address
    return parts | {part: text}


def _with_areas(parts: Parts, area: str) -> Parts:
    """Every area of one cell or a pair, as the formula list tells them, made into another."""
    name = "xl/sharedStrings.xml"
    return {
        name: re.sub(rb"(<t[^>]*>)[A-Z]{1,2}\d+:[A-Z]{1,2}\d+(</t>)", rb"\g<1>" + area.encode() + rb"\2", parts[name])
    }


def _cells() -> Iterator[tuple[str, str]]:
    """Contents of one typed cell, @ for its address."""
    for text in ("NaN", "INF", "-inf", "1e999", "0x10", "1_000", "１２", "--1", "1,5", " 7 ", "7e", "abc"):
        yield f"{text} for a number", f'<c r="@"><v>{text}</v></c>'
    for kind in ("s", "b", "e", "d", "str", "inlineStr", "zz", ""):
        yield f"kind {kind!r} with a large number", f'<c r="@" t="{kind}"><v>99999999</v></c>'
    for style in ("-1", "x", "1.5", "99999999999999999999", ""):
        yield f"style {style!r}", f'<c r="@" s="{style}"><v>1</v></c>'
    for address in (
        "",
        "0",
        "A0",
        "A-1",
        "a1",
        "1A",
        "ZZZZ1",
        "XFE1",
        "A1048577",
        "A99999999999999999999",
        "$A$1",
        "A1:B2",
    ):
        yield f"address {address!r}", f'<c r="{address}"><v>1</v></c>'
    yield "a text of a million letters", f'<c r="@" t="str"><v>{"x" * 1_000_000}</v></c>'
    yield "sixty wildcards", f'<c r="@" t="str"><v>{"*a" * 60}b</v></c>'
    yield "four thousand wildcards", f'<c r="@" t="str"><v>{"?*" * 2000}</v></c>'
    yield "control letters", '<c r="@" t="str"><v>&#27;[31m red &#13;&#10; =1+1</v></c>'
    yield "a letter that XML forbids", '<c r="@" t="str"><v>&#0;</v></c>'
    yield "ten thousand brackets", f'<c r="@"><f>{"(" * 10_000}1{")" * 10_000}</f><v>1</v></c>'
    yield "brackets that do not close", '<c r="@"><f>SUM((((1</f><v>1</v></c>'
    yield "a text that does not close", '<c r="@"><f>&quot;abc</f><v>1</v></c>'
    yield "a sheet that does not close", '<c r="@"><f>\'abc!A1</f><v>1</v></c>'
    yield "a shared formula without its first", '<c r="@"><f t="shared" si="77"/><v>1</v></c>'
    yield "a shared formula over the edge", '<c r="@"><f t="shared" si="77" ref="@">A1</f><v>1</v></c>'
    yield "an array over all", f'<c r="@"><f t="array" ref="{_LIST_AREA}">1</f><v>1</v></c>'
    yield "a command", "<c r=\"@\"><f>cmd|' /C calc'!A0</f><v>1</v></c>"
    yield "a link in a formula", "<c r=\"@\"><f>'[1]Sheet'!A1</f><v>1</v></c>"
    yield "the cell twice", '<c r="@"><v>1</v></c><c r="@"><v>2</v></c>'
    yield "a hundred thousand elements deep", f'<c r="@">{"<is>" * 100_000}{"</is>" * 100_000}</c>'


def _around(formula_list: str) -> Iterator[tuple[str, str, str, str]]:
    """Name, part, pattern and what is put in its place."""
    sheet, book, texts, styles = "xl/worksheets/sheet2.xml", "xl/workbook.xml", TEXTS, "xl/styles.xml"
    data, tail = "<sheetData>", "</sheetData>"
    for line in ("0", "-5", "99999999999999999999", "x", ""):
        yield f"line {line!r}", sheet, '<row r="6"', f'<row r="{line}"'
    yield "a cell at the far corner", sheet, tail, f'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>{tail}'
    yield "lines without number", sheet, '<row r="6"', "<row"
    yield "a dimension of all", sheet, '<dimension ref="[^"]*"', f'<dimension ref="{_LIST_AREA}"'
    yield "a dimension that is none", sheet, '<dimension ref="[^"]*"', '<dimension ref="nowhere"'
    yield "columns without end", sheet, "<col min", '<col min="1" max="99999999999" hidden="1"/><col min'
    yield "columns that are none", sheet, "<col min", '<col min="x" max="y" width="z"/><col min'
    yield "a width that is none", sheet, ' width="[^"]*"', ' width="NaN"'
    yield "merged over all", sheet, tail, f'{tail}<mergeCells><mergeCell ref="{_LIST_AREA}"/></mergeCells>'
    rule, many = '(?<=") sqref="B6"(?=><formula)', " ".join(f"B{number}" for number in range(1, 60_000))
    for name, area in (("all", _LIST_AREA), ("nothing", "nowhere"), ("very many areas", many)):
        yield f"a rule over {name}", sheet, rule, f' sqref="{area}"'
    condition = (
        '<cfRule type="expression" dxfId="99"><formula>A1+"</formula></cfRule></conditionalFormatting><pageMargins'
    )
    condition = f'<conditionalFormatting sqref="A1:Z190">{condition}'
    yield "a condition that is none", sheet, "<pageMargins", condition
    yield "two tables of cells", sheet, tail, f'{tail}{data}<row r="1"><c r="A1"><v>1</v></c></row>{tail}'
    yield "a comment in the cells", sheet, data, f"{data}<!-- x -->"
    yield "a prefix without a name", sheet, data, f"<zz:a/>{data}"
    yield "a million empty elements", sheet, tail, f"{tail}{'<x/>' * 200_000}"
    yield "no names of sheets", book, ' name="Start"', ""
    yield "two sheets of one name", book, ' name="Start"', ' name="readings"'
    yield "a sheet with a name of a million letters", book, ' name="Start"', f' name="{"x" * 1_000_000}"'
    yield "a sheet without its part", book, ' r:id="rId3"', ' r:id="rId999"'
    yield "no sheets", book, "<sheets>.*</sheets>", "<sheets/>"
    yield "the formula list gone", book, '<sheet name="Formula list"[^>]*>', ""
    yield (
        "a name of a sheet that is not",
        book,
        "<definedNames>",
        '<definedNames><definedName name="a" localSheetId="-7">1</definedName>',
    )
    yield "texts of nothing", texts, "<sst.*</sst>", "<sst/>"
    yield "texts of another kind", texts, "<sst", "<a:sst xmlns:a='b'"
    yield "a colour that is none", styles, '<color rgb="[^"]*"', '<color rgb="#####" theme="x" tint="y"'
    yield "a font that is not", styles, 'fontId="1"', 'fontId="-99"'
    yield "a format that is none", styles, 'numFmtId="16', 'numFmtId="x16'
    yield "no edition", texts, r"\d+\.\d+\.\d+-[0-9a-f]{8}", "none"
    yield "edition of another", texts, r"\d+\.\d+\.\d+-[0-9a-f]{8}", "../../../etc/passwd"
    yield "formula list without lines", formula_list, '<row r="[7-9]".*</sheetData>', tail
