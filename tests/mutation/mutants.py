"""Spec formulas with one token changed, drawn with a seed."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from openpyxl.formula.tokenizer import Token

from builder.engine.formula.compile import compile_slot
from builder.engine.formula.resolve import Resolver
from builder.engine.layout import Layout, Place, Slot
from builder.engine.model import Model
from builder.engine.spec import SpecError
from builder.engine.spec.model import Row
from builder.engine.spec.tokens import is_name, names, parts
from tests.support.scratch import TITLE

SWAPPED = {
    **{"+": "-", "-": "+", "*": "/", "/": "*", "^": "*", "<": "<=", "<=": "<", ">": ">=", ">=": ">", "=": "<>"},
    **{"<>": "=", "0": "1", "1": "2", "2": "1", "90": "180", "100": "1000", "180": "360", "360": "180", "1000": "100"},
}
FUNCTIONS = {
    **{"MIN": "MAX", "MAX": "MIN", "AND": "OR", "OR": "AND", "SIN": "COS", "COS": "SIN", "SMALL": "LARGE"},
    **{"LARGE": "SMALL", "SUM": "MAX", "COUNT": "COUNTBLANK", "COUNTBLANK": "COUNT", "RADIANS": "DEGREES"},
    **{"DEGREES": "RADIANS", "ISNUMBER": "ISTEXT", "ISTEXT": "ISNUMBER", "ISBLANK": "ISTEXT", "EXP": "LN", "LN": "EXP"},
    **{"TAN": "ATAN", "ATAN": "TAN", "SQRT": "ABS", "ABS": "", "NOT": "", "TRIM": "", "UPPER": "", "SIGN": ""},
    **{"MEDIAN": "AVERAGE", "AVERAGE": "MEDIAN", "ISERROR": "ISTEXT", "ISLOGICAL": "ISTEXT", "SUMSQ": "SUM"},
    **{"STDEV": "VAR", "VAR": "STDEV", "NORMSDIST": "NORMSINV", "NORMSINV": "NORMSDIST", "ROUND": "MAX", "MOD": "MAX"},
}
WORD_PREFIXES = ("word", "label", "choice", "point", "where")


@dataclass(frozen=True)
class Site:
    """A formula in names and the cells that say it."""

    list: str
    row: Row
    formula: str
    slots: tuple[Slot, ...]

    @property
    def name(self) -> str:
        """List and row, with the first instance where instances differ."""
        first = self.slots[0].instance
        return f"{self.list}.{self.row.key}" + (f".{first}" if first in self.row.formulas else "")


@dataclass(frozen=True)
class Mutant:
    """A site, its formula with one token changed, and the formulas in cells that this gives; none when refused."""

    site: Site
    token: int
    was: str
    now: str
    formula: str
    cells: tuple[str, ...] = ()
    refused: str = ""

    @property
    def name(self) -> str:
        """Where and what is changed: what the explanations of survivors go by."""
        return f"{self.site.name}, token {self.token}: {self.was} -> {self.now}"


def sites(model: Model) -> list[Site]:
    """Every formula of the specs, the points' and the judges' among them, once each, in the order of the sheets."""
    found = []
    for (owner, _), cells in model.layout.by_row.items():
        slots: dict[str, list[Slot]] = {}
        for slot in cells.values():
            row = slot.row
            picked = row.echo or (row.decision is not None and row.decision.picked)  # its formula is the builder's own
            if row.role(slot.instance) == "formula" and not picked and slot.instance not in row.cells:
                slots.setdefault(row.formulas.get(slot.instance, row.formula or ""), []).append(slot)
        found += [Site(owner, here[0].row, formula, tuple(here)) for formula, here in slots.items()]
    return found


def draw(model: Model, count: int, seed: int) -> list[Mutant]:
    """As many mutants, each of another formula. Each draws for itself: a new row changes few of them."""
    resolver = Resolver(model.spec, model.layout, dict(model.constants))
    known = _names_by_kind(model)
    drawing = [(random.Random(f"{seed} {site.name} {site.formula}"), site) for site in sites(model)]
    mutants: list[Mutant] = []
    for _, number in sorted((chance.random(), number) for number, (chance, _) in enumerate(drawing)):
        chance, site = drawing[number]
        changes = list(_changes(site, chance, known, model.layout))
        if changes and len(mutants) < count:
            mutants.append(compiled(Mutant(site, *chance.choice(changes)), model, resolver))
    return mutants


def _names_by_kind(model: Model) -> dict[tuple[str, bool, str], list[str]]:
    """Plain names by list, whether they are words, and unit."""
    known: dict[tuple[str, bool, str], list[str]] = {}
    for (owner, key), cells in model.layout.by_row.items():
        row = next(iter(cells.values())).row
        if row.input is None:
            known.setdefault((owner, row.is_word, row.unit), []).append(key)
    return known


def _changes(
    site: Site, chance: random.Random, known: dict[tuple[str, bool, str], list[str]], layout: Layout
) -> Iterator[tuple[int, str, str, str]]:
    """Each token that can be changed: its number, what it was, what it is now, the whole formula."""
    tokens = parts(site.formula)
    values = [token.value for token in tokens]
    for at, token in enumerate(tokens):
        now = _swapped(token, site, chance, known, layout)
        if now is not None and now != token.value:
            yield at, token.value, now or "nothing", "".join([*values[:at], now, *values[at + 1 :]])
        if token.type == Token.OP_IN and token.value in "+-" and _is_short_term(tokens, at):
            yield at, token.value + values[at + 1], "nothing", "".join([*values[:at], *values[at + 2 :]])


def _is_short_term(tokens: Sequence[Token], at: int) -> bool:
    """Whether one operand alone follows, which nothing binds closer."""
    after = tokens[at + 2].value if at + 2 < len(tokens) else ""
    return tokens[at + 1].type == Token.OPERAND and after not in ("*", "/", "^")


def _swapped(
    token: Token,
    site: Site,
    chance: random.Random,
    known: dict[tuple[str, bool, str], list[str]],
    layout: Layout,
) -> str | None:
    if token.type == Token.FUNC and token.subtype == Token.OPEN:
        other = FUNCTIONS.get(token.value.rstrip("(").upper())
        return None if other is None else other + "("
    if token.type == Token.OP_PRE and token.value == "-":
        return ""
    if is_name(token):
        others = [name for name in _alike(token.value, site, known, layout) if name != token.value]
        return chance.choice(others) if others else None
    if token.type == Token.OPERAND and token.subtype == Token.NUMBER and token.value not in SWAPPED:
        return f"{float(token.value) + 1:.12g}"
    return SWAPPED.get(token.value) if token.type in (Token.OP_IN, Token.OPERAND) else None


def _alike(name: str, site: Site, known: dict[tuple[str, bool, str], list[str]], layout: Layout) -> list[str]:
    """Names that could stand in its place: of the same formula, or rows of the same list, kind and unit."""
    prefix, dot, rest = name.rpartition(".")
    same = [other for other in names(site.formula) if other.rpartition(".")[0] == prefix]
    if prefix in WORD_PREFIXES:
        return same
    owners = layout.lists_of.get(rest, [])
    if not owners:
        return [other for other in same if other not in layout.lists_of]
    owner = site.list if site.list in owners else owners[0]
    row = next(iter(layout.cells(owner, rest).values())).row
    others = known.get((owner, row.is_word, row.unit), [])
    if row.cells:  # another constant of the same value would be no change
        others = [key for key in others if next(iter(layout.cells(owner, key).values())).row.cells != row.cells]
    return [prefix + dot + other for other in others]


def compiled(mutant: Mutant, model: Model, resolver: Resolver) -> Mutant:
    """The mutant with its formulas in cells, as they read from the scratch sheet; or with why the build refuses it."""
    site = mutant.site
    written = []
    for line, slot in enumerate(site.slots):
        of_instance = {**site.row.formulas, slot.instance: mutant.formula}
        spoilt = replace(slot, row=replace(slot.row, formulas=of_instance, decision=None), place=Place(TITLE, line, 0))
        try:
            cell = compile_slot(spoilt, resolver)
        except SpecError as error:
            return replace(mutant, refused=str(error))
        if _reads_itself(model, slot, cell.reads):
            return replace(mutant, refused=f"{site.row.file}, '{site.row.key}': reads itself")
        written.append(cell.formula)
    return replace(mutant, cells=tuple(written))


def _reads_itself(model: Model, slot: Slot, reads: Sequence[Slot]) -> bool:
    """Whether the changed cell would stand in a circle, which the build refuses."""
    waiting, seen = [read.place for read in reads], set()
    while waiting:
        place = waiting.pop()
        if place == slot.place:
            return True
        if place not in seen and place in model.compiled:
            seen.add(place)
            waiting += [read.place for read in model.compiled[place].reads]
    return False
