"""What a typed cell accepts, and the formats that depend on a condition: the same rule however a program splits it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import NamedTuple
from xml.etree.ElementTree import Element

from builder.engine.addresses import COLUMNS, address, area
from builder.engine.audit.book import BookView
from builder.engine.audit.expected import Planned, PlannedCells
from builder.engine.audit.finding import Finding, finding
from builder.engine.audit.formulas import meaning
from builder.engine.audit.sheet import SheetView, boxes, is_on, moved
from builder.engine.audit.stored import BrokenSheet, local
from builder.engine.audit.styles import Styles, Traits, conditional_traits, hides

MOST_CELLS = 5_000  # of one area that is looked at cell by cell; our own rules have 48
ROOM = 1_000  # cells of rules that a sheet may have beyond twice as many as it was built with: more is no one's saving
SAID, REFUSED = ("promptTitle", "prompt"), ("errorTitle", "error")
TWO_LIMITS = ("between", "notBetween")
Box = tuple[int, int, int, int]


class Rule(NamedTuple):
    """The rule of one cell; formulas are told as they read in that cell."""

    type: str
    operator: str
    formulas: tuple[tuple[str, ...], ...]
    demands: tuple[bool | str, ...]  # the kind of its alert, empty for none; whether it lets a blank cell be
    said: tuple[str, ...] = ()


NO_RULE = Rule("none", "", (), ())


class Condition(NamedTuple):
    """A conditional format of one cell or of one large area."""

    where: str
    type: str
    operator: str
    formulas: tuple[tuple[str, ...], ...]
    hides: bool
    looks: Traits


def compare_rules(planned: PlannedCells, built: BookView, found: BookView) -> Iterator[Finding]:
    """Data validations and conditional formats of the sheets that both have."""
    for title, was in built.sheets.items():
        now = found.sheets.get(title)
        if now is not None:
            yield from rules_of_sheet(planned[title], was, built.styles, now, found.styles)


def rules_of_sheet(
    cells: Mapping[str, Planned], was: SheetView, before: Styles, now: SheetView, after: Styles
) -> list[Finding]:
    """Those of one sheet."""
    if _size(now) > 2 * _size(was) + ROOM:
        return [finding("many_rules", now.title, "", "", _size(was), _size(now))]
    keys = {address: planned.key for address, planned in cells.items()}
    return [*_validations(was, now, keys), *_conditions(was, before, now, after)]


def _size(sheet: SheetView) -> int:
    """How many cells the rules of a sheet name, each as often as it is named: what comparing them costs."""
    groups = [_areas(element) for element in _elements(sheet, "dataValidations", "dataValidation")]
    for group in _groups(sheet):
        groups += [group.get("sqref") or _areas(group)] * sum(local(rule.tag) == "cfRule" for rule in group)
    return sum(_cells_of(areas) for areas in groups)


@lru_cache(maxsize=1 << 10)
def _cells_of(areas: str) -> int:
    sizes = ((right - left + 1) * (bottom - top + 1) for left, top, right, bottom in boxes(areas))
    return sum(1 if size > MOST_CELLS else max(1, size) for size in sizes)


def _validations(was: SheetView, now: SheetView, keys: dict[str, str]) -> Iterator[Finding]:
    before, after = _rules(was), _rules(now)
    for cell, rule in before.items():
        other = after.get(cell, NO_RULE)
        if other == NO_RULE:
            yield finding("validation", was.title, cell, keys.get(cell, ""), _told(rule), None, "validation_gone")
        elif other._replace(said=rule.said) == rule:
            if other.said != rule.said:
                told = (" / ".join(filter(None, words)) for words in (rule.said, other.said))
                yield finding("prompt", was.title, cell, keys.get(cell, ""), *told)
        else:
            yield finding("validation", was.title, cell, keys.get(cell, ""), _told(rule), _told(other))
    for cell, rule in after.items():
        if cell not in before and rule != NO_RULE:
            yield finding("validation", was.title, cell, keys.get(cell, ""), None, _told(rule), "validation_added")


def _told(rule: Rule) -> str:
    said = " ".join((rule.type, rule.operator, " ".join("".join(parts) for parts in rule.formulas))).strip()
    kind = rule.demands[0] if rule.demands else ""
    return f"{said} ({f'alert: {kind}' if kind else 'no alert'})"


def _rules(sheet: SheetView) -> dict[str, Rule]:
    """The rule of each cell (large areas by their text), those of the format's extension among them."""
    found: dict[str, Rule] = {}
    for element in _elements(sheet, "dataValidations", "dataValidation"):
        kind = element.get("type", "none")
        operator = element.get("operator", "between") if kind not in ("list", "none", "custom") else ""
        count = 2 if operator in TWO_LIMITS else 1
        formulas = _formulas(element, "formula1", "formula2")[:count]
        alert = element.get("errorStyle", "stop") if is_on(element.attrib, "showErrorMessage") else ""
        blank = is_on(element.attrib, "allowBlank")
        told = is_on(element.attrib, "showInputMessage")
        words = [*(SAID if told else ()), *(REFUSED if alert else ())]
        said = tuple(" ".join(element.get(word, "").split()) for word in words)
        said = said if any(said) else ()
        if is_on(element.attrib, "showDropDown") and kind == "list":
            said = (*said, "no list is shown")
        for cell, shifted in _spread(_areas(element), formulas):
            rule = Rule(kind, operator, tuple(meaning(f) for f in shifted), (alert, blank), said)
            rule = NO_RULE if rule._replace(demands=()) == NO_RULE else rule
            if found.setdefault(cell, rule) != rule:
                raise BrokenSheet(f"two rules stand for {cell} of {sheet.title}")
    return found


def _conditions(was: SheetView, styles: Styles, now: SheetView, styles_now: Styles) -> Iterator[Finding]:
    before, after = _formats(was, styles), _formats(now, styles_now)
    for condition in after:
        if condition not in before:
            said = " ".join(["".join(parts) for parts in condition.formulas] or [condition.type])
            what = "conditional_hides" if condition.hides else "conditional"
            yield finding("conditional", now.title, condition.where, "", None, said, what)
    gone = [condition.where for condition in before if condition not in after]
    if gone:
        yield finding("rule_missing", now.title, gone[0], "", len(before), len(before) - len(gone))


def _formats(sheet: SheetView, styles: Styles) -> dict[Condition, None]:
    found: dict[Condition, None] = {}
    for group in _groups(sheet):
        for element in group:
            if local(element.tag) != "cfRule":
                continue
            own = [child for child in element if local(child.tag) == "dxf"]
            number = element.get("dxfId", "")
            hiding = any(hides(child) for child in own) or (
                number.isdigit() and int(number) < len(styles.hiding) and styles.hiding[int(number)]
            )
            hiding |= any(not is_on(child.attrib, "showValue", True) for child in element)
            looks = tuple(trait for child in own for trait in conditional_traits(child))
            if number.isdigit() and int(number) < len(styles.conditional):
                looks += styles.conditional[int(number)]
            formulas = _formulas(element, "formula", "f")
            for cell, shifted in _spread(group.get("sqref") or _areas(group), formulas):
                parts = tuple(meaning(formula) for formula in shifted)
                kinds = element.get("type", ""), element.get("operator", "")
                found[Condition(cell, *kinds, parts, hiding, looks)] = None
    return found


def _groups(sheet: SheetView) -> list[Element]:
    """The groups of conditional formats, those of the format's extension among them."""
    groups = list(sheet.parts.get("conditionalFormatting", []))
    return groups + [
        e for part in sheet.parts.get("extLst", []) for e in part.iter() if local(e.tag) == "conditionalFormatting"
    ]


def _elements(sheet: SheetView, group: str, name: str) -> Iterator[Element]:
    for part in (*sheet.parts.get(group, []), *sheet.parts.get("extLst", [])):
        yield from (element for element in part.iter() if local(element.tag) == name)


def _areas(element: Element) -> str:
    """The areas of a rule: an attribute, or in the format's extension an element of its own."""
    return element.get("sqref") or " ".join(c.text or "" for c in element if local(c.tag) == "sqref")


def _formulas(element: Element, *names: str) -> list[str]:
    """The formulas among the children; in the format's extension each stands in an element of its own."""
    return [
        (child.text or "").strip() or "".join(inner.text or "" for inner in child)
        for child in element
        if local(child.tag) in names
    ]


def _spread(areas: str, formulas: list[str]) -> Iterator[tuple[str, list[str]]]:
    """Each cell of the areas with the formulas as they read there; a large area as one."""
    origin = None
    for left, top, right, bottom in boxes(areas):
        origin = origin or address(left, top)
        if (right - left + 1) * (bottom - top + 1) > MOST_CELLS:
            yield area(left, top, min(right, COLUMNS), bottom), formulas
            continue
        for line in range(top, bottom + 1):
            for column in range(left, right + 1):
                cell = address(column, line)
                yield cell, [moved(formula, origin, cell) for formula in formulas]
