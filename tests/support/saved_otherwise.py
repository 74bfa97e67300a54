"""What programs do to a workbook when they save it, without changing what it means: none of it may be reported."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import escape, unescape

from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import Token
from openpyxl.formula.translate import Translator

from builder.engine.audit.by_hand import KINDS
from tests.support.plants import BOOK, STYLES, Copy, sheet_of

SAVED: dict[str, Callable[[Copy], None]] = {}
_X14 = (
    '<extLst><ext uri="{{CCE6A557-97BC-4b89-ADB6-D9C93CAAB3DF}}" xmlns:x14="http://schemas.microsoft.com/office/'
    'spreadsheetml/2009/9/main" xmlns:xm="http://schemas.microsoft.com/office/excel/2006/main"><x14:dataValidations>'
    "{}</x14:dataValidations></ext></extLst></worksheet>"
)


def saved(change: Callable[[Copy], None]) -> Callable[[Copy], None]:
    """Enters a way of saving into the table; the program that saves so writes every part anew."""

    def whole(copy: Copy) -> None:
        change(copy)
        for pattern, _ in KINDS.values():
            copy.parts |= {name: data + b"\n" for name, data in copy.parts.items() if pattern.fullmatch(name)}

    SAVED[change.__name__.replace("_", " ")] = whole
    return whole


@saved
def formulas_spelled_otherwise(copy: Copy) -> None:
    """Spaces, small letters, prefixes, fixed references, TRUE as a function, decimals, areas of one cell, quotes."""
    for key in ("cornea", "power", "incisions"):
        copy.sub(copy.part(sheet_of(copy, key)), "<f>([^<]*)</f>", lambda m: f"<f>{_respelled(m[1])}</f>", count=0)


def _respelled(xml: str) -> str:
    return escape("".join(_token(token) for token in Tokenizer("=" + unescape(xml)).items), quote=False)


def _token(token: Token) -> str:
    text = str(token.value)
    if token.type == Token.FUNC and token.subtype == Token.OPEN:
        return "_xlfn." + text.lower() + " "
    if token.subtype == Token.LOGICAL:
        return text + "()"
    if token.subtype == Token.NUMBER:
        return f"{float(text):.3f}"
    if token.type == Token.OPERAND and token.subtype == Token.RANGE:
        sheet, mark, cells = text.rpartition("!")
        fixed = re.sub(r"([A-Z]+)([0-9]+)", r"$\1$\2", cells)
        quoted = sheet if not sheet or sheet.startswith("'") else f"'{sheet}'"
        return quoted + mark + (fixed if ":" in fixed else f"{fixed}:{fixed}" if mark else fixed.lower())
    return text + " " if token.type == Token.SEP else text


@saved
def formulas_shared_with_the_cell_below(copy: Copy) -> None:
    """A formula that was filled down is written once."""
    changed = 0
    for title in copy.sheet_names:
        part = copy.part(title)
        text = copy.parts[part].decode()
        cells = dict(re.findall(r'<c r="([A-Z]+[0-9]+)"[^>]*><f>([^<]*)</f>', text))
        for number, (first, formula) in enumerate(list(cells.items())):
            if first not in cells:
                continue
            letters, line = re.fullmatch(r"([A-Z]+)([0-9]+)", first).groups()  # type: ignore[union-attr]
            below = f"{letters}{int(line) + 1}"
            filled = Translator("=" + unescape(formula), first).translate_formula(below)[1:]
            if cells.get(below) != escape(filled, quote=False):
                continue
            mark = f'<f t="shared" si="{number}"'
            for cell, new in ((first, f'{mark} ref="{first}:{below}">{formula}</f>'), (below, f"{mark}/>")):
                text = re.sub(rf'(<c r="{cell}"[^>]*>)<f>[^<]*</f>', lambda m, n=new: m[1] + n, text, count=1)
            del cells[below]
            del cells[first]
            changed += 1
            if changed % 5 == 0:
                break
        copy.parts[part] = text.encode()
    assert changed > 20


@saved
def styles_in_another_order(copy: Copy) -> None:
    """The table of styles turned round."""
    table = re.search(r"(<cellXfs[^>]*>)(.*?)(</cellXfs>)", copy.parts[STYLES].decode(), re.DOTALL)
    assert table
    styles = re.findall(r"<xf [^>]*?/>|<xf .*?</xf>", table[2], re.DOTALL)
    first, last = styles[0], len(styles) - 1
    copy.swap(STYLES, table[0], table[1] + first + "".join(reversed(styles[1:])) + table[3])
    for title in copy.sheet_names:
        copy.sub(
            copy.part(title),
            r'(<c r="[A-Z]+\d+" s=")(\d+)"',
            lambda m: f'{m[1]}{int(m[2]) and last + 1 - int(m[2])}"',
            count=0,
        )


@saved
def rules_kept_in_the_extension(copy: Copy) -> None:
    """Rules that name another sheet are kept in the format's extension by current programs."""
    part = copy.part(sheet_of(copy, "choices"))
    rules = re.findall(r"<dataValidation [^>]*>.*?</dataValidation>", copy.parts[part].decode(), re.DOTALL)
    moved = [rule for rule in rules if "!" in rule]
    assert moved
    written = []
    for rule in moved:
        copy.swap(part, rule, "")
        area = re.search(r' sqref="([^"]*)"', rule)
        assert area
        rule = rule.replace(area[0], "").replace("dataValidation", "x14:dataValidation")
        rule = re.sub(r"<(formula\d)>(.*?)</formula\d>", r"<x14:\1><xm:f>\2</xm:f></x14:\1>", rule)
        written.append(rule.replace("</x14:dataV", f"<xm:sqref>{area[1]}</xm:sqref></x14:dataV"))
    copy.swap(part, "</worksheet>", _X14.format("".join(written)))


@saved
def equal_rules_joined(copy: Copy) -> None:
    """The choices of both eyes under one rule."""
    right, left = (copy.place("eyes", "typed_k_rule", eye) for eye in ("right", "left"))
    part = copy.part(right[0])
    copy.sub(part, rf'<dataValidation [^>]*sqref="{left[1]}"[^>]*>.*?</dataValidation>', "")
    copy.swap(part, f'sqref="{right[1]}"', f'sqref="{right[1]}:{left[1]}"')


@saved
def conditions_split(copy: Copy) -> None:
    """The shading of the map, upper and lower half apart."""
    part = copy.part(sheet_of(copy, "map"))
    area = re.search(r'<conditionalFormatting sqref="([A-Z]+)(\d+):([A-Z]+)(\d+)"', copy.parts[part].decode())
    assert area
    middle = (int(area[2]) + int(area[4])) // 2
    halves = f"{area[1]}{area[2]}:{area[3]}{middle} {area[1]}{middle + 1}:{area[3]}{area[4]}"
    copy.swap(part, area[0], f'<conditionalFormatting sqref="{halves}"')


@saved
def colours_from_the_theme(copy: Copy) -> None:
    """Black as the theme's dark colour, white as its light one, and grounds by number."""
    copy.sub(STYLES, r'<sz val="10"/>', '<sz val="10"/><color theme="1"/>', count=0)
    copy.sub(STYLES, r'(<fills count="\d+"><fill><patternFill) patternType="none"/>', r'\1 patternType="none"/>')


@saved
def everything_on_lines_of_its_own(copy: Copy) -> None:
    """Spaces and line breaks between the elements."""
    for title in copy.sheet_names:
        part = copy.part(title)
        copy.parts[part] = re.sub(rb">(?=<(?!/[tv]>))", b">\n  ", copy.parts[part])


@saved
def defaults_said(copy: Copy) -> None:
    """What holds anyway, written out."""
    copy.swap(BOOK, "<calcPr ", '<calcPr calcMode="auto" fullPrecision="1" iterate="false" ')
    copy.sub(BOOK, r'(<sheet name="[^"]*")', r'\1 state="visible"', count=0)
    for title in copy.sheet_names:
        copy.sub(copy.part(title), r"<row ", '<row hidden="false" collapsed="0" ', count=0)
        copy.sub(copy.part(title), r"<col ", '<col hidden="0" ', count=0)


@saved
def cells_without_addresses(copy: Copy) -> None:
    """A line whose cells stand side by side from the first on, only counted."""
    part = copy.part(sheet_of(copy, "readings"))
    line = re.search(r'<row r="5".*?</row>', copy.parts[part].decode(), re.DOTALL)
    assert line and '<c r="A5"' in line[0] and '<c r="H5"' in line[0]
    copy.swap(part, line[0], re.sub(r' r="[A-Z]+5"', "", line[0]))


@saved
def pictures_dropped(copy: Copy) -> None:
    """Charts are lost; that is noted and changes no number."""
    for title in copy.sheet_names:
        part = copy.part(title)
        copy.parts[part] = re.sub(rb"<drawing [^>]*/>", b"", copy.parts[part])


@saved
def numbers_with_fifteen_digits(copy: Copy) -> None:
    """Stored numbers as programs with fewer digits keep them."""
    part = copy.part(sheet_of(copy, "power"))
    copy.sub(part, r"<v>(-?\d+\.\d+)</v>", lambda m: f"<v>{float(m[1]) * (1 + 4e-15):.15g}</v>", count=0)
