"""Formula in names -> guarded formula in cells, for every slot of a workbook."""

from __future__ import annotations

import re
from functools import lru_cache
from graphlib import CycleError, TopologicalSorter

from builder.engine.addresses import CELL, COLUMN, TITLE
from builder.engine.formula.compiled import Compiled
from builder.engine.formula.dialect import (
    LONGEST,
    bare_sides,
    calculated_with,
    faults,
    length_of_texts,
    searched_for,
)
from builder.engine.formula.resolve import Reference, Resolver
from builder.engine.formula.steady import steady
from builder.engine.layout import Layout, Place, Slot, formula_slots
from builder.engine.spec import SpecError, WorkbookSpec
from builder.engine.spec.judging import LOOKED_UP
from builder.engine.spec.tokens import names, substitute

# One cell where a function counts over an area: it is written as an area there, for a plain cell is an error to one
# engine, as an area of one cell is to another wherever one value must stand.
COUNTED_CELL = re.compile(rf"(\b(?:COUNTIF|SUMIF|AVERAGEIF)\()((?:{TITLE})?({CELL})),")
# A text, or a cell that moves when a formula is copied down: one without a dollar sign.
FREE = ("text", "name", "identifier")  # kinds of inputs whose text is anybody's
SEARCH_SIGN = re.compile(r'[*?~]|^"[<>=]')
TEXT_OR_CELL = re.compile(rf'"(?:[^"]|"")*"|(?<![\w$.])({COLUMN})([0-9]+)(?![\w.(])')


def compile_workbook(spec: WorkbookSpec, layout: Layout, constants: dict[str, Place]) -> dict[Place, Compiled]:
    """Every formula of the workbook by its cell. Raises SpecError for an unknown name or a word outside the dialect."""
    resolver = Resolver(spec, layout, constants)
    compiled = {}
    alike: dict[tuple[str, str], tuple[int, list[str | int]]] = {}
    for slot in formula_slots(layout):
        row, name = slot.row, (slot.block.instances.name, slot.row.key)
        if not slot.block.instances.long or slot.instance in row.formulas or slot.instance in row.cells:
            compiled[slot.place] = compile_slot(slot, resolver)
        elif name in alike:
            line, pieces = alike[name]
            compiled[slot.place] = Compiled(slot, _copied(pieces, slot.place.line - line), ())
        else:
            compiled[slot.place] = compile_slot(slot, resolver)
            alike[name] = slot.place.line, _pieces(compiled[slot.place].formula)
    return compiled


def _pieces(formula: str) -> list[str | int]:
    """A formula cut into its texts and the line numbers of those of its cells that move."""
    pieces: list[str | int] = []
    done = 0
    for found in TEXT_OR_CELL.finditer(formula):
        if found[2]:
            pieces += [formula[done : found.start(2)], int(found[2])]
            done = found.end()
    return [*pieces, formula[done:]]


def _copied(pieces: list[str | int], moved: int) -> str:
    """The formula of one line of a long list, copied down by so many lines."""
    return "".join([piece if isinstance(piece, str) else str(piece + moved) for piece in pieces])


def compile_slot(slot: Slot, resolver: Resolver) -> Compiled:
    """The formula of one cell, as it is written where the slot stands. Raises SpecError."""
    row = slot.row
    if row.echo:
        echoed = resolver.resolve(row.echo, slot)
        return Compiled(slot, echoed.text, echoed.slots)
    formula = row.formula_of(slot.instance, _picks_across(slot, resolver))
    if not formula:
        raise SpecError(row.file, slot.told, f"has no formula for '{slot.instance}'", "Give it one")
    typed = row.decision.parts if row.decision else (formula,)
    strange = [fault for part in typed for fault in _faults(part, row.judges)]
    if strange:
        raise SpecError(row.file, slot.told, "; ".join(strange), "Mend it, in the portable dialect")
    if row.steady_digits is not None:
        formula = steady(formula, row.steady_digits)
    found = {name: resolver.resolve(name, slot) for name in names(formula)}
    _refuse_texts(slot, formula, found, resolver)
    if formula in found and len(found[formula].slots) > 1:
        wrong = f"is the whole list {formula} for '{slot.instance}', where one value must stand"
        raise SpecError(
            row.file, slot.told, wrong, f"Give '{slot.instance}' a cell in `cells`, or a formula of its own"
        )
    if formula in found and found[formula].kind == "range":  # a list of one: the cell, which stands where a value must
        found[formula] = resolver.cell(found[formula].slots[0], slot)
    core = COUNTED_CELL.sub(r"\1\2:\3,", substitute(formula, lambda name: found[name].text))
    if row.derived and any(reference.slots for reference in found.values()):
        raise SpecError(row.file, slot.told, "is derived and reads cells", "Compute it from constants alone")
    guard = _guard(slot, found, resolver) if row.guarded else ""
    written = f'IF({guard},{core},"")' if guard else core
    if len(written) > LONGEST or length_of_texts(written) > 255:
        raise SpecError(row.file, slot.told, "is too long for the file format", "Split the formula or shorten its text")
    return Compiled(slot, written, tuple(dict.fromkeys(s for r in found.values() for s in r.slots)))


def _picks_across(slot: Slot, resolver: Resolver) -> bool:
    """Whether what is picked lies in one line."""
    if slot.row.decision is None or not slot.row.decision.picked:
        return False
    picked = resolver.resolve(slot.row.decision.picked.replace("@", slot.instance), slot)
    return len({cell.place.column for cell in picked.slots}) > 1


def _refuse_texts(slot: Slot, formula: str, found: dict[str, Reference], resolver: Resolver) -> None:
    """A typed text is neither compared nor searched for as it is, and no text calculated with. Raises SpecError."""
    for name in bare_sides(formula):
        if name in found and _is_free_text(found[name], resolver):
            wrong = f"compares the typed text {name} as it is, and programs may heed capitals"
            raise SpecError(slot.row.file, slot.told, wrong, "Put UPPER( ) round both sides")
    for name in searched_for(formula):
        if name in found and _is_free_text(found[name], resolver, searched=True):
            wrong = f"searches for the typed text {name} as it is, and programs may take * ? ~ in it for other letters"
            raise SpecError(slot.row.file, slot.told, wrong, "Refuse them in a row of its own, and search for that")
        if name in found and found[name].kind == "text" and SEARCH_SIGN.search(found[name].text):
            wrong = f"searches for the text {found[name].text}, which holds a sign that programs take for other letters"
            raise SpecError(slot.row.file, slot.told, wrong, "Say it without * ? ~ and without < > = at its beginning")
    for name in calculated_with(formula):
        if name in found and found[name].kind in ("word", "text"):
            wrong = f"calculates with the text {name}, which programs may read as a number or not"
            raise SpecError(slot.row.file, slot.told, wrong, "Calculate with numbers, and join texts with &")


def _is_free_text(reference: Reference, resolver: Resolver, searched: bool = False) -> bool:
    """Whether a name is a text as a person typed it; what a drop-down offers is spelled as its list has it, but may be
    typed otherwise into its cell, where the search alone need not know it: what it finds is compared again."""
    if reference.kind != "word" or len(reference.slots) != 1:
        return False
    row = reference.slots[0].row
    if row.input is not None:
        return row.input.type in FREE or (not searched and row.input.type in LOOKED_UP)
    return row.part is not None and row.part.name in ("used", "accepted") and row.part.of.type in FREE


@lru_cache(maxsize=1 << 14)  # the instances of a row share their formula
def _faults(formula: str, judge: bool) -> tuple[str, ...]:
    return tuple(faults(formula, judge=judge))


def _guard(slot: Slot, found: dict[str, Reference], resolver: Resolver) -> str:
    row = slot.row
    if row.any_of is not None:
        cells = ",".join(resolver.resolve(name.replace("@", slot.instance), slot).text for name in row.any_of)
        return f"COUNT({cells})>0"
    wanted = found
    if row.needs is not None:
        wanted = {name: resolver.resolve(name.replace("@", slot.instance), slot) for name in row.needs}
    wanted = {name: found for name, found in wanted.items() if not any(cell.row.derived for cell in found.slots)}
    numbers = list(dict.fromkeys(r.text for r in wanted.values() if r.kind == "number"))
    words = list(dict.fromkeys(r.text for r in wanted.values() if r.kind == "word"))
    tests = [f"COUNT({','.join(numbers)})={len(numbers)}"] if numbers else []
    tests += [f"LEN({word})>0" for word in words]
    return tests[0] if len(tests) == 1 else f"AND({','.join(tests)})" if tests else ""


def refuse_reading_displays(compiled: dict[Place, Compiled]) -> None:
    """Raises SpecError for a row that reads one that only displays and does more itself: it would have no twin."""
    for cell in compiled.values():
        row = cell.slot.row
        shown = (slot.row for slot in cell.reads if slot.row.display and slot.row.role(slot.instance) == "formula")
        read = None if row.display else next(shown, None)
        if read is not None:
            wrong = f"reads '{read.key}' ({read.file}), which only displays and has no value in the reference"
            todo = (
                "Say `display = true` of this row too if it only displays; else take it off the other and compute that"
            )
            raise SpecError(row.file, cell.slot.told, wrong, todo)


def find_circle(compiled: dict[Place, Compiled]) -> list[Slot]:
    """The slots of one circle of formulas, each of which reads the next; empty when there is none."""
    readers = {place: cell.reads for place, cell in compiled.items() if cell.reads}  # no copy in a long list
    reads = {place: [slot.place for slot in slots if slot.place in readers] for place, slots in readers.items()}
    try:
        TopologicalSorter(reads).prepare()
    except CycleError as error:
        circle: list[Place] = error.args[1]  # first and last are the same; each is read by the next
        return [compiled[place].slot for place in reversed(circle[1:])]
    return []
