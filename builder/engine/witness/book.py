"""A workbook of formulas and values that computes itself, and again only what follows from what is typed anew."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from graphlib import CycleError
from typing import Any

from builder.engine.witness.copies import runs
from builder.engine.witness.operands import Area, Fault, error_of
from builder.engine.witness.translate import Compute, functions_of, ready, translate

Cell = tuple[str, int, int]  # sheet title, line and column from 0


class Book:
    """Cells by sheet title, line and column, and how each is computed.

    Raises Untranslated for a formula that is not of the dialect, and
    graphlib.CycleError for one that reads itself.

    A node is a cell or an area; `_made` says how each node that is computed comes from the nodes that it reads.
    """

    def __init__(self, formulas: Mapping[Cell, str], held: Mapping[Cell, Any]) -> None:
        self._node: dict[Cell | tuple[Cell, Cell], int] = {}
        self._cells: dict[int, Cell] = {}
        self._areas: dict[int, tuple[int, ...]] = {}
        self._values: list[Any] = []
        self._by: dict[int, tuple[int, tuple[int, ...]]] = {}  # which function computes a node, and what it reads
        self._widths: dict[int, int] = {}
        self._made: dict[int, tuple[Compute, tuple[int, ...]]] = {}
        self._held = {self._cell(cell): plain(value) for cell, value in held.items()}
        self._typed: dict[int, Any] = {}
        self._now = 0
        self._runs: dict[tuple[Cell, int], list[int]] = {}
        self._translate(formulas)
        self._runs.clear()
        self._make()
        self._readers: list[list[int]] = [[] for _ in self._values]
        self._order = self._ordered()
        for node, value in self._held.items():
            self._values[node] = value
        self._waiting = bytearray(len(self._values))
        for node in self._made:
            self._waiting[node] = 1

    def _translate(self, formulas: Mapping[Cell, str]) -> None:
        patterns: dict[str, int] = {}
        sources: list[str] = []
        for (sheet, line, column), copied, count in runs(formulas):
            if copied.pattern not in patterns:
                patterns[copied.pattern] = len(patterns)
                sources.append(translate(copied.pattern))
            own = self._run((sheet, line, column), count)
            columns = [self._reads(corners, moves, count) for corners, moves in copied.names]
            reads = zip(*columns, strict=True) if columns else [()] * count
            self._by.update(zip(own, [(patterns[copied.pattern], nodes) for nodes in reads], strict=True))
        self._code = ready(sources)

    def _make(self) -> None:
        """The function of each node that is computed, by what is written of it."""
        functions = functions_of(self._code)
        self._made = {node: (functions[of], reads) for node, (of, reads) in self._by.items()}
        self._made |= {node: (_area_of(width), self._areas[node]) for node, width in self._widths.items()}

    def __getstate__(self) -> dict[str, Any]:
        return {name: value for name, value in vars(self).items() if name != "_made"}

    def __setstate__(self, state: dict[str, Any]) -> None:
        vars(self).update(state)
        self._make()

    def _reads(self, corners: Sequence[Cell], moves: Sequence[int], count: int) -> Sequence[int]:
        """The nodes that a name of a formula stands for in each of its copies."""
        if not any(moves):
            return [self._named(corners)] * count
        if len(corners) == 1:
            return self._run(corners[0], count)
        spots = [list(zip(corners, moves, strict=True))] * count
        return [self._named([(s, at + down * m, of) for (s, at, of), m in ends]) for down, ends in enumerate(spots)]

    def _run(self, cell: Cell, count: int) -> list[int]:
        """The nodes of a cell and of those below it."""
        if (cell, count) not in self._runs:
            sheet, line, column = cell
            self._runs[cell, count] = [self._cell((sheet, at, column)) for at in range(line, line + count)]
        return self._runs[cell, count]

    def _ordered(self) -> list[int]:
        """The nodes that are computed, each behind all that it reads; notes who reads each."""
        made, readers, lacking = self._made, self._readers, {}
        for node, (_, reads) in made.items():
            all_read = set(reads)
            lacking[node] = sum(read in made for read in all_read)
            for read in all_read:
                readers[read].append(node)
        order = [node for node, count in lacking.items() if not count]
        for node in order:  # which grows as it is walked
            for reader in readers[node]:
                lacking[reader] -= 1
                if not lacking[reader]:
                    order.append(reader)
        if len(order) < len(made):
            raise CycleError("a formula reads itself", [self._cells.get(node) for node in made.keys() - order])
        return order

    @property
    def leaves(self) -> list[Cell]:
        """The cells that are read and not computed."""
        return [cell for node, cell in self._cells.items() if node not in self._made]

    def type(self, typed: Mapping[Cell, Any]) -> None:
        """Types these cells over those that are held, and no others; what follows is computed when it is asked for.

        Raises KeyError for a cell that is neither held nor read."""
        typed_now = {self._node[cell]: plain(value) for cell, value in typed.items()}
        for node in self._typed.keys() - typed_now.keys():
            self._set(node, self._held.get(node))
        for node, value in typed_now.items():
            self._set(node, value)
        self._typed = typed_now

    def nodes(self, cells: Iterable[Cell]) -> list[int]:
        """By these numbers a cell that is read or computed is put and taken faster."""
        return [self._node[cell] for cell in cells]

    def put(self, nodes: Iterable[int], values: Iterable[Any]) -> None:
        """Types over what these cells held, and leaves all others as they are."""
        for node, value in zip(nodes, values, strict=True):
            self._set(node, value)

    def take(self, nodes: Iterable[int]) -> list[Any]:
        """What each of these cells holds now."""
        self._compute()
        return [self._values[node] for node in nodes]

    def values(self, cells: Iterable[Cell]) -> list[Any]:
        """What each of these cells holds now."""
        return self.take(self.nodes(cells))

    @property
    def computing(self) -> Cell:
        """The formula cell that is being computed, for a test that watches."""
        return self._cells[self._now]

    def reads(self, cell: Cell) -> list[Cell]:
        """The cells that a formula cell names, areas cell by cell, once each."""
        found: dict[int, None] = {}
        for node in self._made[self._node[cell]][1]:
            found |= dict.fromkeys(self._areas.get(node, (node,)))
        return [self._cells[node] for node in found]

    def _compute(self) -> None:
        """Every node that waits, in an order in which all that it reads is done before."""
        waiting, values, made = self._waiting, self._values, self._made
        for node in self._order:
            if waiting[node]:
                waiting[node] = 0
                self._now = node
                compute, reads = made[node]
                try:
                    value = compute(values, reads)
                except (Fault, ArithmeticError, ValueError) as fault:
                    value = error_of(fault)
                self._set(node, 0.0 if value is None or (value == 0.0 and value.__class__ is float) else value)

    def _set(self, node: int, value: Any) -> None:
        before = self._values[node]
        if value != before or value.__class__ is not before.__class__ or value.__class__ is Area:
            self._values[node] = value
            for reader in self._readers[node]:
                self._waiting[reader] = 1

    def _cell(self, cell: Cell) -> int:
        if cell not in self._node:
            self._node[cell] = len(self._values)
            self._cells[len(self._values)] = cell
            self._values.append(None)
        return self._node[cell]

    def _named(self, ends: Sequence[Cell]) -> int:
        """The node of a cell, or of the area between two corners."""
        if len(ends) == 1:
            return self._cell(ends[0])
        first, last = ends
        if (first, last) not in self._node:
            lines, width = range(first[1], last[1] + 1), last[2] - first[2] + 1
            nodes = [self._cell((first[0], line, first[2] + step)) for line in lines for step in range(width)]
            self._node[first, last] = node = len(self._values)
            self._values.append(None)
            self._areas[node] = tuple(nodes)
            self._widths[node] = width
        return self._node[first, last]


def _area_of(width: int) -> Compute:
    def gather(values: Sequence[Any], nodes: Sequence[int]) -> Area:
        area = Area([values[node] for node in nodes])
        area.width = width
        return area

    return gather


def plain(value: Any) -> Any:
    """A typed value as a cell holds it: numbers as float, nothing as a blank."""
    if value is None or isinstance(value, str | bool):
        return value
    return float(value)
