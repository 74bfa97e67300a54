"""What a workbook's XML holds, held to the documented limits of specs/limits.toml, and whether it is in order."""

from __future__ import annotations

import re
import tomllib
import zipfile
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from xml.etree.ElementTree import Element

from defusedxml.ElementTree import fromstring
from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import Token
from openpyxl.utils import coordinate_to_tuple, range_boundaries

from builder.engine.formula.dialect import FUNCTIONS, ONLY_IN_THE_JUDGE
from builder.engine.spec.reading import SPECS

LIMITS = {entry["key"]: entry for entry in tomllib.loads((SPECS / "limits.toml").read_text(encoding="utf-8"))["limit"]}
MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}"
CHART = "{http://schemas.openxmlformats.org/drawingml/2006/chart}"
DRAWING = "{http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing}"
# Known in 2007, when the format was written: what the dialect has. A newer function needs a prefix in the file.
FUNCTIONS_OF_2007 = FUNCTIONS | ONLY_IN_THE_JUDGE
NUMBER = re.compile(r"-?(?:\d+(?:\.\d*)?|\.\d+)(?:E[-+]?\d+)?", re.I)
STORED = {"n": NUMBER, "s": re.compile(r"\d+"), "b": re.compile("[01]"), "str": None, "e": None, "inlineStr": None}
BYTES = {Token.FUNC: 4, Token.OP_IN: 1, Token.OP_PRE: 1, Token.OP_POST: 1, Token.SEP: 0, Token.PAREN: 1}
BYTES_OF_AN_AREA, BYTES_OF_A_NUMBER = 13, 9
# A number format: sections of plain letters of it, quoted or escaped texts, colours and conditions in brackets.
FORMAT = re.compile(r'(?:"[^"]*"|\\.|\[[^\]]*\]|_.|[#0?.,%@;:/+\-() $A-Za-z*])*')
MOVING = re.compile(r"(?<=[A-Z])\d+(?![\w(])")  # the row of a cell
COUNTED = re.compile(r"\b(?:COUNTIF|SUMIF|AVERAGEIF)\([^,]*,")  # these want an area, were it of one cell
ONE_AREA = re.compile(r"(?<![A-Z0-9$])(\$?[A-Z]{1,3}\$?\d+):(\$?[A-Z]{1,3}\$?\d+)")
Measured = tuple[str, str, int]  # key of the limit, where, how much


def passed_limits(path: Path) -> list[str]:
    """A sentence for each limit that a workbook passes, and for each thing in it that is out of order."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    return list(faults_of(parts))


def faults_of(parts: dict[str, bytes]) -> Iterator[str]:
    """As passed_limits, of a workbook given by its parts."""
    for key, where, amount in _measured(parts):
        limit = LIMITS[key]
        if amount > limit["most"]:
            yield f"{where}: {amount} {limit['what']}, at most {limit['most']} ({limit['documented']})"
    yield from _out_of_order(parts)


def _trees(parts: dict[str, bytes], folder: str) -> Iterator[tuple[str, Element]]:
    for name, data in parts.items():
        if name.startswith(folder) and name.endswith(".xml"):
            yield name, fromstring(data)


def _measured(parts: dict[str, bytes]) -> Iterator[Measured]:
    book = fromstring(parts["xl/workbook.xml"])
    for sheet in book.iter(f"{MAIN}sheet"):
        yield "sheet_name", f"sheet {sheet.get('name')}", len(sheet.get("name", ""))
    for name in book.iter(f"{MAIN}definedName"):
        yield "name_letters", f"name {name.get('name')}", len(name.get("name", ""))
        yield from _of_formula(name.text or "", f"name {name.get('name')}")
    styles = fromstring(parts["xl/styles.xml"])
    for key, tag in (
        ("cell_formats", "cellXfs"),
        ("number_formats", "numFmts"),
        ("fonts", "fonts"),
        ("fills", "fills"),
    ):
        yield key, "styles", sum(len(part) for part in styles.iter(f"{MAIN}{tag}"))
    for form in styles.iter(f"{MAIN}numFmt"):
        yield "number_format_letters", f"number format {form.get('formatCode')}", len(form.get("formatCode", ""))
    if "xl/sharedStrings.xml" in parts:
        for number, item in enumerate(fromstring(parts["xl/sharedStrings.xml"])):
            text = "".join(part.text or "" for part in item.iter(f"{MAIN}t"))
            yield "cell_text", f"shared text {number}", len(text)
            yield "line_breaks", f"shared text {number}", text.count("\n")
    for part, sheet in _trees(parts, "xl/worksheets/sheet"):
        yield from _of_sheet(part, sheet)
    for part, chart in _trees(parts, "xl/charts/chart"):
        series = list(chart.iter(f"{CHART}ser"))
        yield "series", part, len(series)
        for one in series:
            for count in one.iter(f"{CHART}ptCount"):
                yield "points", part, int(count.get("val", "0"))
    for part, drawing in _trees(parts, "xl/drawings/drawing"):
        for shown in drawing.iter(f"{DRAWING}cNvPr"):
            yield "alternative_text", f"{part} {shown.get('name')}", len(shown.get("descr", ""))


def _of_sheet(part: str, sheet: Element) -> Iterator[Measured]:
    for row in sheet.iter(f"{MAIN}row"):
        yield "row_height", f"{part} row {row.get('r')}", round(float(row.get("ht", "0")))
        for cell in row:
            formula = cell.find(f"{MAIN}f")
            if formula is not None and formula.text:
                yield from _of_formula(formula.text, f"{part} {cell.get('r')}")
            value = cell.find(f"{MAIN}v")
            if cell.get("t") == "str" and value is not None:
                yield "cell_text", f"{part} {cell.get('r')}", len(value.text or "")
    for column in sheet.iter(f"{MAIN}col"):
        yield "column_width", f"{part} column {column.get('min')}", round(float(column.get("width", "0")))
    for rule in sheet.iter(f"{MAIN}dataValidation"):
        where = f"{part} rule {rule.get('sqref', '')[:20]}"
        for key, attribute in (("rule_prompt", "prompt"), ("rule_error", "error")):
            yield key, where, len(rule.get(attribute, ""))
        for attribute in ("promptTitle", "errorTitle"):
            yield "rule_title", where, len(rule.get(attribute, ""))
        yield "rule_areas", where, len(rule.get("sqref", "").split())
        for formula in rule:
            yield "rule_formula", where, len(formula.text or "")
    for form in sheet.iter(f"{MAIN}conditionalFormatting"):
        yield "rule_areas", f"{part} conditional format", len(form.get("sqref", "").split())
    for tag in ("oddHeader", "oddFooter", "evenHeader", "evenFooter", "firstHeader", "firstFooter"):
        for text in sheet.iter(f"{MAIN}{tag}"):
            yield "header_footer", part, len(text.text or "")
    for tag in ("rowBreaks", "colBreaks"):
        for breaks in sheet.iter(f"{MAIN}{tag}"):
            yield "page_breaks", part, len(breaks)
    links = list(sheet.iter(f"{MAIN}hyperlink"))
    yield "links", part, len(links)
    for link in links:
        yield "link_letters", f"{part} link {link.get('ref')}", len(link.get("location", ""))


def _of_formula(formula: str, where: str) -> Iterator[Measured]:
    yield "formula_letters", where, len(formula) + 1
    for key, amount in _tokens_of(MOVING.sub("1", formula))[0]:
        yield key, where, amount


@lru_cache(maxsize=1 << 15)
def _tokens_of(formula: str) -> tuple[tuple[tuple[str, int], ...], frozenset[str]]:
    """What a formula measures, and the functions that it calls; formulas that differ by their rows alone are alike."""
    found: list[tuple[str, int]] = []
    called: set[str] = set()
    compiled, deep, deepest, arguments = 0, [], 0, 0
    for token in Tokenizer("=" + formula).items:
        if token.type == Token.OPERAND:
            if token.subtype == Token.TEXT:
                text = token.value[1:-1].replace('""', '"')
                found.append(("text_in_formula", len(text)))
                compiled += 3 + 2 * len(text)
            else:
                compiled += BYTES_OF_A_NUMBER if token.subtype == Token.NUMBER else BYTES_OF_AN_AREA
        elif token.subtype == Token.OPEN:
            deep.append(1)
            deepest = max(deepest, len(deep))
            compiled += BYTES.get(token.type, 1)
            if token.type == Token.FUNC:
                called.add(token.value[:-1])
        elif token.subtype == Token.CLOSE:
            arguments = max(arguments, deep.pop())
        elif token.type == Token.SEP:
            deep[-1] += 1
        else:
            compiled += BYTES.get(token.type, 1)
    found += [("formula_bytes", compiled), ("nesting", deepest), ("arguments", arguments)]
    return tuple(found), frozenset(called)


def _out_of_order(parts: dict[str, bytes]) -> Iterator[str]:
    """What no limit says and a strict reader would refuse."""
    book = fromstring(parts["xl/workbook.xml"])
    titles = [sheet.get("name", "") for sheet in book.iter(f"{MAIN}sheet")]
    if len({title.casefold() for title in titles}) < len(titles):
        yield "two sheets have one name"
    for title in titles:
        if re.search(r"[\[\]:*?/\\]", title) or title[:1] == "'" or title[-1:] == "'" or not title:
            yield f"sheet {title}: a name with a letter that names may not have"
    for name in book.iter(f"{MAIN}definedName"):
        area = re.fullmatch(r"'?(.*?)'?!\$?[A-Z$0-9:]+", (name.text or "").partition(",")[0])
        if name.get("localSheetId") and (not area or area[1].replace("''", "'") not in titles):
            yield f"{name.get('name')}: is of {name.text}, which is no area of the file"
    texts = len(fromstring(parts["xl/sharedStrings.xml"])) if "xl/sharedStrings.xml" in parts else 0
    styles = fromstring(parts["xl/styles.xml"])
    formats = sum(len(part) for part in styles.iter(f"{MAIN}cellXfs"))
    for form in styles.iter(f"{MAIN}numFmt"):
        code = form.get("formatCode", "")
        if not FORMAT.fullmatch(code) or code.count(";") > 3 or code.count('"') % 2:
            yield f"number format {code}: not well formed"
    for part, sheet in _trees(parts, "xl/worksheets/sheet"):
        yield from _sheet_out_of_order(part, sheet, texts, formats)
        for link in sheet.iter(f"{MAIN}hyperlink"):
            target = re.fullmatch(r"'?(.*?)'?!\$?([A-Z]+)\$?(\d+)(:.*)?", link.get("location", ""))
            if link.get(f"{RELATION}id") is None and (not target or target[1].replace("''", "'") not in titles):
                yield f"{part} link {link.get('ref')}: leads to {link.get('location')}, which is no cell of the file"


def _sheet_out_of_order(part: str, sheet: Element, texts: int, formats: int) -> Iterator[str]:
    last_row = 0
    for row in sheet.iter(f"{MAIN}row"):
        number, last_column = int(row.get("r", "0")), 0
        if number <= last_row:
            yield f"{part} row {number}: stands behind row {last_row}"
        last_row = number
        for cell in row:
            address = cell.get("r", "")
            line, column = coordinate_to_tuple(address)
            if line != number or column <= last_column:
                yield f"{part} {address}: out of its order"
            last_column = column
            yield from _cell_out_of_order(f"{part} {address}", cell, texts, formats)
    for pane in sheet.iter(f"{MAIN}pane"):
        line, column = coordinate_to_tuple(pane.get("topLeftCell", "A1"))
        if line <= int(float(pane.get("ySplit", "0"))) or column <= int(float(pane.get("xSplit", "0"))):
            yield f"{part}: the part that moves begins inside the frozen one"
    merged = [range_boundaries(area.get("ref")) for area in sheet.iter(f"{MAIN}mergeCell")]
    if merged:
        yield f"{part}: has merged cells"


def _cell_out_of_order(where: str, cell: Element, texts: int, formats: int) -> Iterator[str]:
    kind, value, formula = cell.get("t", "n"), cell.find(f"{MAIN}v"), cell.find(f"{MAIN}f")
    if int(cell.get("s", "0")) >= formats:
        yield f"{where}: its format is not in the file"
    if kind not in STORED:
        yield f"{where}: unknown kind of value {kind}"
        return
    pattern = STORED[kind]
    if value is not None and pattern is not None and not pattern.fullmatch(value.text or ""):
        yield f"{where}: '{value.text or ''}' is no value of kind {kind}"
    elif kind == "s" and value is not None and int(value.text or "0") >= texts:
        yield f"{where}: its text is not in the file"
    if kind in ("b", "e") and formula is not None:
        yield f"{where}: a formula that gives {'a logical' if kind == 'b' else 'an error'} value"
    if formula is not None and formula.text:
        yield from _formula_out_of_order(where, formula.text)


def _formula_out_of_order(where: str, formula: str) -> Iterator[str]:
    for first, last in ONE_AREA.findall(COUNTED.sub("", formula)):
        if first.replace("$", "") == last.replace("$", ""):
            yield f"{where}: {first}:{last} is an area of one cell"
    for name in sorted(_tokens_of(MOVING.sub("1", formula))[1] - FUNCTIONS_OF_2007):
        yield f"{where}: the function {name} was not known in 2007"
