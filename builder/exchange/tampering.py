"""Whether the locked cells of a returned file are those of its edition: formulas and numbers, cell by cell."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import Token, TokenizerError

from builder.exchange.casefile import input_slots
from builder.exchange.sheetcells import SheetCells
from builder.exchange.untrusted import Refused
from builder.layout import Place
from builder.model import Model
from builder.values import cited

NAMED = 3  # cells that a refusal names; of the others it tells the number
EDITION_ROW = "edition_code"
_ONE_CELL = re.compile(r"\b([A-Z]{1,3}[0-9]+):\1$")  # B6:B6 is B6


@dataclass(frozen=True)
class Locked:
    """What an edition holds, by sheet title and address: formulas, numbers and words; and its entry cells."""

    formulas: Mapping[str, Mapping[str, str]]
    constants: Mapping[tuple[str, str], float | str]
    entries: Mapping[tuple[str, str], Place]
    edition: str
    edition_at: tuple[str, str]


def locked_cells(model: Model) -> Locked:
    """The locked cells of a built edition."""
    title = {sheet.key: model.spec.words.get("sheet", sheet.key) for sheet in model.spec.sheets}
    formulas: dict[str, dict[str, str]] = {name: {} for name in title.values()}
    for place, compiled in model.compiled.items():
        formulas[title[place.sheet]][place.address] = compiled.formula
    constants: dict[tuple[str, str], float | str] = {}
    for key, place in model.constants.items():
        constants[title[place.sheet], place.address] = model.spec.constants[key].value
    edition_at = ("", "")
    for slot in model.layout.slots:
        at = title[slot.place.sheet], slot.place.address
        if slot.row.key == EDITION_ROW:
            edition_at = at
        elif slot.row.role(slot.instance) == "constant":
            constants[at] = cited(model, slot.row.cells[slot.instance])
    entries = {(title[s.place.sheet], s.place.address): s.place for s in input_slots(model).values()}
    return Locked(formulas, constants, entries, model.edition, edition_at)


def refuse_tampered(locked: Locked, cells: SheetCells) -> None:
    """Raises Refused for a file that is not ours, of another edition, or with changed cells, which it names."""
    edition = cells.value(*locked.edition_at)
    if not isinstance(edition, str):
        raise Refused("not_ours", cells.name)
    if edition != locked.edition:
        raise Refused("other_edition", cells.name, edition[:40], locked.edition)
    for sheet in locked.formulas:
        if sheet not in cells.sheets:
            raise Refused("no_sheet", cells.name, sheet)
    for key, found in (("changed", list(_changed(locked, cells))), ("computed", list(_computed(locked, cells)))):
        if found:
            more = f" + {len(found) - NAMED}" if len(found) > NAMED else ""
            raise Refused(key, cells.name, ", ".join(found[:NAMED]) + more)


def _changed(locked: Locked, cells: SheetCells) -> Iterator[str]:
    for sheet, formulas in locked.formulas.items():
        for address, formula in formulas.items():
            found = cells.formula(sheet, address)
            if found != formula and (found is None or not same_formula(found, formula)):
                yield f"{sheet}!{address}"
    for at, constant in locked.constants.items():
        if cells.formula(*at) is not None or not _same_value(cells.value(*at), constant):
            yield "!".join(at)
    for sheet in cells.sheets:
        expected = locked.formulas.get(sheet, {})
        for address in cells.formula_cells(sheet):
            known = address in expected or (sheet, address) in locked.constants or (sheet, address) in locked.entries
            if not known:
                yield f"{sheet}!{address}"


def _computed(locked: Locked, cells: SheetCells) -> Iterator[str]:
    """Entry cells with a formula: its stored result is only a claim."""
    return ("!".join(at) for at in locked.entries if cells.formula(*at) is not None)


def _same_value(found: object, constant: float | str) -> bool:
    if isinstance(constant, str) or isinstance(found, bool) or not isinstance(found, float):
        return found == constant
    return abs(found - constant) <= 1e-12 * abs(constant)  # a program may write 15 digits


def same_formula(first: str, second: str) -> bool:
    """Whether two formulas differ only as two programs write the same one:
    spaces, capitals, quotes, digits, brackets of TRUE, a range of one cell."""
    return _plain(first) == _plain(second)


@lru_cache(maxsize=1 << 14)
def _plain(formula: str) -> str:
    try:
        tokens = Tokenizer("=" + formula).items
    except (TokenizerError, IndexError):
        return formula
    found = "\0".join(_token(token) for token in tokens if token.type != Token.WSPACE)
    return found.replace("TRUE(\0)", "TRUE").replace("FALSE(\0)", "FALSE")


def _token(token: Token) -> str:
    if token.type != Token.OPERAND or token.subtype == Token.TEXT:
        return str(token.value) if token.subtype == Token.TEXT else str(token.value).upper()
    if token.subtype == Token.NUMBER:
        return repr(float(token.value))
    return _ONE_CELL.sub(r"\1", str(token.value).replace("'", "").upper())
