"""What a spec says, as plain data: sheets of blocks, blocks of rows, rows laid out over the instances of a list."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

from builder.engine.spec.charts import Chart
from builder.engine.spec.decisions import Decision, only_names
from builder.engine.spec.lists import InstanceList

Role = Literal["formula", "typed", "constant"]
SIGNED = "signed"  # the style of numbers that carry + or -
BEHIND = 11  # decimals to which numbers with a sign are rounded, whose noise would be seen


class ErrorValue(str):
    """An error value that was typed or pasted into a cell, such as #N/A."""


@dataclass(frozen=True)
class Input:
    """A typed cell: its kind, hard limits (numbers or names), default (a name) and what it may contradict."""

    key: str
    block: str
    file: str
    type: str = "number"
    unit: str = ""
    decimals: int = 2
    lowest: float | str | None = None
    highest: float | str | None = None
    awaits: tuple[str, ...] = ()  # the limits that are rows, so may not be there yet; constants always are
    show_lowest: str | None = None
    show_highest: str | None = None
    default: str | None = None
    choices: tuple[str, ...] = ()
    list: str | None = None
    offers: str | None = None  # the row that a drop-down shows, else `list`
    conflict: str | None = None
    conflict_word: str | None = None
    thousandths: str | None = None  # the word for what looks typed in thousandths of the unit
    publish: str = ""
    style: str = ""
    needed: bool = False

    @property
    def is_word(self) -> bool:
        """Whether the used value is a word and not a number."""
        return self.type in ("choice", "listed", "text", "name", "identifier")


class Part(NamedTuple):
    """Which part of an input a row is: typed, state, judged, accepted, conflict, used, refused, place, ... of which."""

    name: str
    of: Input


@dataclass(frozen=True)
class Row:
    """One quantity of a block, one cell for each instance. `source`: keys of sources.toml, with spaces between.

    `whole`: on the page of one side, words that need no label and run over the whole line. `of`: whose it is, of the
    keys a row set is used for. `judges`: it reads typed cells, so it may ask for errors and logical values.
    `styles`: what an instance has beside the style of the row.
    `steady`: decimals to which its numbers are rounded, far behind those shown, 0: to none; a sign asks for it.
    `decision`: of a row that chooses; `formula` then says the same for a list that lies in a column.
    `part`: of an input that the builder turned into rows, which part of it the row is.
    `step`: a step on the way to rows that have a twin, which need not be in the reference: its formula computes it.
    `display`: it only displays, so its formula alone computes it, and no row that does more may read it.
    """

    key: str
    file: str
    kind: str = "number"
    unit: str = ""
    decimals: int = 2
    formula: str | None = None
    formulas: Mapping[str, str] = field(default_factory=dict)
    cells: Mapping[str, Any] = field(default_factory=dict)
    needs: tuple[str, ...] | None = None
    any_of: tuple[str, ...] | None = None
    echo: str | None = None
    style: str = ""
    styles: Mapping[str, str] = field(default_factory=dict)
    source: str = ""
    publish: str = ""
    link: str | None = None
    input: Input | None = None
    guarded: bool = True
    label: str = ""
    of: str = ""
    judges: bool = False
    whole: bool = False
    decision: Decision | None = None
    steady: int | None = None
    derived: bool = False
    display: bool = False
    step: bool = False
    part: Part | None = None

    @property
    def follows(self) -> bool:
        """Whether the reference need not know it, for it only shows other cells and is read by no program."""
        formulas = (self.formula or "", *self.formulas.values())
        shows = only_names(formulas) if self.decision is None else self.decision.follows
        return shows and not self.publish

    @property
    def is_word(self) -> bool:
        """Whether its cells hold words and not numbers."""
        return self.kind == "word"

    @property
    def is_axis(self) -> bool:
        """Whether its numbers are axes, or turns of one: the same half a turn further on. A position is none."""
        return self.kind == "axis"

    @property
    def steady_digits(self) -> int | None:
        """The decimals to which its cells round what they compute; None: they do not."""
        if self.kind != "number" or self.decision is not None or self.input is not None:
            return None
        wanted = self.steady if self.steady is not None else BEHIND if SIGNED in self.style.split() else 0
        return wanted or None

    def role(self, instance: str) -> Role:
        """What stands in the cell of an instance: a typed input, a locked constant or a formula."""
        if self.input is not None:
            return "typed"
        if instance in self.cells and self.cells[instance] != "":
            return "constant"
        return "formula"

    def formula_of(self, instance: str, across: bool = False) -> str:
        """In names; an empty constant is the empty text, `@` the own key, `across`: what is picked lies in one line."""
        if instance in self.cells:
            return '""'
        if across and self.decision is not None:
            return self.decision.formula(across).replace("@", instance)
        return self.formulas.get(instance, self.formula or "").replace("@", instance)


@dataclass(frozen=True)
class Point:
    """A reason that holds a workbook back; `refuses`: the input that it says is refused, `cell`: where it sends."""

    key: str
    level: str
    of_whole: bool
    live: str
    cell: str = ""
    refuses: str = ""
    sentence: str = ""
    code: int = 0  # the number of a warning, its own for ever
    hint: str = ""  # the word that tells how to type what came as a text
    hazard: str = ""  # the hazard that it serves, where that one does not name it itself
    file: str = ""


@dataclass(frozen=True)
class Block:
    """Rows x instances on a sheet. `across`: a row is a line; `down`: a row is a column.

    `beside`: on the lines of that block, from column `at` and so many lines `lower`; `room`: lines that a block keeps
    for itself and what stands beside it. `told_by`: what a message about one of its formulas names, the row, or the
    instance where each is an entry of the specs whose rows the builder makes. `title`: under which key its title and
    notes are, else its own; `head`: the word that its columns are headed with, where it stands beside another.
    """

    key: str
    file: str
    instances: InstanceList
    rows: tuple[Row, ...] = ()
    layout: str = "across"
    beside: str | None = None
    at: int = 0
    lower: int = 0
    room: int = 0
    heads: bool = True
    text: tuple[str, ...] = ()
    titled: bool = True
    show_unit: bool = True
    pinned: bool = False
    shade: tuple[str, ...] = ()
    told_by: str = "row"
    title: str = ""
    head: str = ""


@dataclass(frozen=True)
class Sheet:
    """A tab: its blocks from top to bottom.

    `serves`: what one does there, which colours its tab (style roles `tab_…`).
    `generated`: a table that the writer makes from the model itself. `side`: the sheet is one printed page of one side.
    `one_page`: it is printed on one. `across`: how many pages wide it is printed; `frozen`: lines and columns that stay
    in sight, on paper too.
    """

    key: str
    file: str
    columns: tuple[float, ...]
    serves: str
    landscape: bool
    blocks: tuple[Block, ...]
    generated: str = ""
    charts: tuple[Chart, ...] = ()
    side: str = ""
    one_page: bool = False
    across: int = 1
    frozen: tuple[int, int] | None = None
