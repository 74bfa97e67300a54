"""Steps computed wrongly, one after the other, and whether a row that the reference holds tells it."""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping, Sequence
from typing import Any

from builder.engine.layout import Place
from builder.engine.model import Model
from builder.engine.same import NOISE
from builder.engine.witness.book import Book
from builder.engine.witness.untwinned import Untwinned
from builder.engine.witness.workbook import Witness
from builder.planner.values import evaluate_cases


class _Spoilt(Book):
    """A book in which one cell after the other is computed wrongly; `moved` are the nodes that it changed."""

    moved: dict[int, Any]

    def _set(self, node: int, value: Any) -> None:
        if hasattr(self, "moved"):
            self.moved.setdefault(node, self._values[node])
        super()._set(node, value)

    def spoilt(self, nodes: Sequence[int], wrong: Callable[[Any], Any]) -> dict[int, tuple[Any, Any]]:
        """What changes, before and after, while these cells are computed wrongly; they are right again afterwards."""
        self._compute()
        self.moved, right = {}, {node: self._made[node] for node in nodes}
        for node, (compute, reads) in right.items():
            self._made[node] = (lambda values, of, compute=compute: wrong(compute(values, of))), reads
            self._waiting[node] = 1
        self._compute()
        changed = {node: (before, self._values[node]) for node, before in self.moved.items()}
        for node, made in right.items():
            self._made[node] = made
            self._waiting[node] = 1
        self._compute()
        del self.moved
        return changed


def a_little(value: Any) -> Any:
    """Another value of the same kind; an empty one stays empty, for it says that there is nothing."""
    if isinstance(value, str):
        return value and value + "x"
    return 1 - value if value in (0.0, 1.0) else value * 1.01 + 0.01


def much(value: Any) -> Any:
    """One farther off: for a place in a list, for what is only held against a limit, for names that are told apart."""
    return value[:1] if isinstance(value, str) else 3 * value + 7


class Trial:
    """A model whose steps are spoilt in states of it."""

    def __init__(self, model: Model) -> None:
        self.model, self.witness = model, Witness(model)
        self.witness._book.__class__ = _Spoilt
        rows = evaluate_cases(model, [{}]).rows
        alone = Untwinned(model, rows).digits
        nodes = dict(zip(self.witness._places, self.witness._book.nodes(self.witness._formulas), strict=True))
        self.held = {node for place, node in nodes.items() if place not in alone}
        self.steps: dict[tuple[str, str], list[int]] = {}
        for place, cell in model.compiled.items():
            row, owner = cell.slot.row, cell.slot.block.instances.name
            if row.step and (owner, row.key) not in rows:
                self.steps.setdefault((owner, row.key), []).append(nodes[place])

    def unnoticed(
        self, states: Sequence[Mapping[Place, Any]], of: Container[tuple[str, str]] | None = None
    ) -> list[tuple[str, str]]:
        """The steps of which no state tells that they are wrong, in all their cells at once; `of`: of these alone."""
        left = {key: cells for key, cells in self.steps.items() if of is None or key in of}
        for typed in states:
            self.witness.values(typed)
            for key, cells in list(left.items()):
                if any(self._told(cells, wrong) for wrong in (a_little, much)):
                    del left[key]
        return sorted(left)

    def _told(self, cells: Sequence[int], wrong: Callable[[Any], Any]) -> bool:
        changed = self.witness._book.spoilt(cells, wrong)
        return any(node in self.held and _other(*pair) for node, pair in changed.items())


def _other(before: Any, after: Any) -> bool:
    if isinstance(before, float) and isinstance(after, float):
        return abs(before - after) > NOISE * max(1.0, abs(before))
    return bool(before != after)
