"""What follows from a change in a workbook that the library `formulas` has computed whole.

The library's own functions compute each cell and each range; only which of them are asked is decided here: those that
read, directly or by others, a cell that now has another value.
"""

from __future__ import annotations

from collections.abc import Mapping
from heapq import heappop, heappush
from typing import Any

import numpy as np


class Solved:
    """A solution of the library's network. `values`: what each node of it holds, cells and ranges, by its name.

    Each answer is found from the one before, as a person types over what stands there.
    """

    def __init__(self, network: Any, solution: Mapping[str, Any]) -> None:
        from formulas.cell import InvRangesAssembler

        self.values = dict(solution)
        self._filters = {name: node.get("filters", ()) for name, node in network.data_nodes.items()}
        self._typed: dict[str, np.ndarray] = {}
        self._changed: dict[str, Any] = {}
        # A node is set after all that it reads, so the order of setting is one in which each is computed once.
        rank = {name: number for number, name in enumerate(self.values)}
        self._steps: dict[int, Any] = {}
        self._readers: dict[str, list[int]] = {}
        for step in network.function_nodes.values():
            if isinstance(step["function"], InvRangesAssembler):
                continue  # from a range to its cells: no case types a range
            made = step["outputs"][0]
            self._steps[rank[made]] = step
            for name in step["inputs"]:
                self._readers.setdefault(name, []).append(rank[made])

    def after(self, typed: Mapping[str, np.ndarray]) -> dict[str, Any]:
        """The nodes that were set anew once these cells are typed, and no others, as a library's range each."""
        changed, self._changed = self._changed, {}  # if a cell cannot be computed, nothing half done is left
        before, self._typed = self._typed, {}
        waiting: list[int] = []
        for name in before.keys() - typed.keys():
            self._set(name, self.values[name], changed, waiting)
        for name, cell in typed.items():
            self._set(name, _filtered(cell, self._filters[name]), changed, waiting)
        done = -1
        while waiting:
            number = heappop(waiting)
            if number == done:
                continue
            done, step = number, self._steps[number]
            result = step["function"](*[changed.get(name, self.values[name]) for name in step["inputs"]])
            made = step["outputs"][0]
            held = _filtered(_filtered(result, step.get("filters", ())), self._filters[made])
            self._set(made, held, changed, waiting)
        self._typed, self._changed = dict(typed), changed
        return dict(changed)

    def _set(self, name: str, held: Any, changed: dict[str, Any], waiting: list[int]) -> None:
        if not _alike(held.value, changed.get(name, self.values[name]).value):
            changed[name] = held
            for number in self._readers.get(name, ()):
                heappush(waiting, number)


def _filtered(value: Any, filters: Any) -> Any:
    for prepare in filters:
        value = prepare(value)
    return value


def _alike(one: np.ndarray, other: np.ndarray) -> bool:
    """The same values of the same kinds: 1 is not TRUE, blank is not an empty text."""
    return one.shape == other.shape and repr(one.tolist()) == repr(other.tolist())
