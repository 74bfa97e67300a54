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
    """A solution of the library's network. `values`: what each node of it holds, cells and ranges, by its name."""

    def __init__(self, network: Any, solution: Mapping[str, Any]) -> None:
        from formulas.cell import InvRangesAssembler

        self.values = dict(solution)
        self._filters = {name: node.get("filters", ()) for name, node in network.data_nodes.items()}
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
        """The nodes that hold something else once these cells are typed, as a library's range each."""
        changed: dict[str, Any] = {}
        waiting: list[int] = []
        for name, cell in typed.items():
            self._set(name, cell, changed, waiting)
        done = -1
        while waiting:
            number = heappop(waiting)
            if number == done:
                continue
            done, step = number, self._steps[number]
            result = step["function"](*[changed.get(name, self.values[name]) for name in step["inputs"]])
            self._set(step["outputs"][0], _filtered(result, step.get("filters", ())), changed, waiting)
        return changed

    def _set(self, name: str, value: Any, changed: dict[str, Any], waiting: list[int]) -> None:
        held = _filtered(value, self._filters[name])
        if not _alike(held.value, self.values[name].value):
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
