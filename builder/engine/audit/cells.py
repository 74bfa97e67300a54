"""Cell by cell: labels, locks, number formats, type that cannot be read, and what stands where nothing should."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from builder.engine.audit.book import BookView
from builder.engine.audit.expected import Planned, PlannedCells
from builder.engine.audit.finding import Finding, finding
from builder.engine.audit.formulas import same_value
from builder.engine.audit.sheet import Cell, SheetView
from builder.engine.audit.stored import RunsText, local
from builder.engine.audit.styles import Look, Styles, Traits, read_font

NO_CELL = Cell(None, "", None, 0)


def compare_cells(planned: PlannedCells, built: BookView | None, found: BookView) -> Iterator[Finding]:
    """All cells of the sheets that both have, besides formulas and constants; `built` is None for an older edition."""
    for title, cells in planned.items():
        sheet = found.sheets.get(title)
        if sheet is None:
            continue
        was = built.sheets[title] if built else None
        yield from cells_of_sheet(cells, was, built.styles if built else None, sheet, found.styles)


def cells_of_sheet(
    cells: Mapping[str, Planned], was: SheetView | None, before: Styles | None, now: SheetView, after: Styles
) -> list[Finding]:
    """The cells of one sheet; `was` and its styles are None for an older edition."""
    title, built = now.title, was.cells if was else {}
    findings: list[Finding] = []
    sound: set[tuple[str, int, int]] = set()  # kinds of cells, with their styles, that look as they should
    for address, planned in cells.items():
        cell, style = now.cells.get(address, NO_CELL), built.get(address, NO_CELL).style
        if planned.kind in ("label", "empty") and not _plainly_fixed(planned, cell):
            findings += _fixed(title, address, planned, cell)
        if isinstance(cell.value, RunsText):
            findings += _runs(title, address, planned.key, cell.value, after.look(cell.style), after)
        if (planned.kind, style, cell.style) not in sound:
            look = before.look(style) if before else None
            odd = list(_look(title, address, planned, look, after.look(cell.style)))
            if not odd:
                sound.add((planned.kind, style, cell.style))
            findings += odd
    return findings + list(_outside(now, cells, after))


def _plainly_fixed(planned: Planned, cell: Cell) -> bool:
    """Whether `_fixed` need not be asked, as of nearly all cells."""
    held = cell.value
    return cell.formula is None and held.__class__ is planned.content.__class__ and held == planned.content


def _fixed(title: str, address: str, planned: Planned, cell: Cell) -> Iterator[Finding]:
    """A label or an empty cell of the layout."""
    held = cell.value if cell.formula is None else "=" + cell.formula
    if planned.kind == "label" and (cell.formula is not None or not same_value(planned.content, cell.value)):
        yield finding("label", title, address, "", planned.content, held)
    elif planned.kind == "empty" and cell.value is not None and cell.formula is None:
        yield finding("extra", title, address, "", None, held)


def _look(title: str, address: str, planned: Planned, was: Look | None, now: Look) -> Iterator[Finding]:
    key = planned.key
    locked = planned.kind != "typed"
    if locked != now.locked:
        yield finding("lock", title, address, key, locked, now.locked, "locked" if now.locked else "unlocked")
    if planned.kind == "formula" and now.formula_hidden:
        yield finding("formula_hidden", title, address, key)
    if was and was.traits != now.traits:
        looks = ("; ".join(" ".join(trait) for trait in look) for look in _apart(was.traits, now.traits))
        yield finding("look", title, address, key, *looks)
    if planned.kind == "empty":
        return
    if now.unreadable and not (was and was.unreadable):
        yield finding("unreadable", title, address, key)
    before = was.number_format if was else None
    if now.hides and not (was and was.hides):
        yield finding("number_format", title, address, key, before, now.number_format, "format_hides")
    elif was and was.shown != now.shown:
        yield finding("number_format", title, address, key, was.number_format, now.number_format)


def _runs(title: str, address: str, key: str, text: RunsText, look: Look, styles: Styles) -> Iterator[Finding]:
    """Letters within a text that look otherwise than the cell: none of our texts has any."""
    font = look.font
    for run in text.runs:
        own = read_font(run, styles.palette)
        odd = [" ".join(trait) for trait in own.traits if trait not in font.traits]
        odd += ["ink"] * (own.ink != font.ink and any(local(e.tag) == "color" for e in run))
        if odd:
            yield finding("runs", title, address, key, None, "; ".join(odd))
            return


def _apart(was: Traits, now: Traits) -> tuple[Traits, Traits]:
    """What one look has and the other has not."""
    return tuple(trait for trait in was if trait not in now), tuple(trait for trait in now if trait not in was)


def _outside(sheet: SheetView, cells: Mapping[str, Planned], styles: Styles) -> Iterator[Finding]:
    """Cells outside the layout: with a value, or unlocked. Formulas there are told with the formulas."""
    unlocked = []
    for address, cell in sheet.cells.items():
        if address in cells:
            continue
        if cell.formula is None and cell.value is not None:
            yield finding("extra", sheet.title, address, "", None, cell.value)
        if not styles.look(cell.style).locked:
            unlocked.append(address)
    if unlocked:
        yield finding("lock", sheet.title, unlocked[0], "", 0, len(unlocked), "unlocked_outside")
