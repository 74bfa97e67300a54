"""A workbook computed by the Python library `formulas`, loaded once and run on many cases."""

import gc
import logging
import os
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from builder.engine.exchange.cellvalues import Cells, Value
from builder.engine.exchange.following import Solved
from builder.engine.exchange.office import EngineFailed, EngineMissing
from builder.engine.spec.tokens import names, substitute


def library() -> Any:
    """The library, imported late because only checks need it and it takes a second to load."""
    os.environ.setdefault("TQDM_DISABLE", "1")
    try:
        import formulas
    except ImportError as error:
        raise EngineMissing("the Python package formulas is not installed; pip install formulas") from error
    logging.getLogger("formulas").setLevel(logging.ERROR)
    return formulas


class _Asked:
    """A cell's formula, computed once for the same arguments.

    One serves all cells that say the same of what they read. Right because no function of the dialect
    gives another answer elsewhere or later, as a clock would.
    """

    def __init__(self, formula: Callable[..., Any], answers: dict[str, Any]) -> None:
        self._formula = formula
        self._answers = answers

    def __call__(self, *ranges: Any) -> Any:
        arguments = repr([given.value.tolist() if hasattr(given, "value") else given for given in ranges])
        if arguments not in self._answers:
            self._answers[arguments] = self._formula(*ranges)
        return self._answers[arguments]


class _Alike:
    """A formula that the library compiled, for a cell that reads other cells in the same way."""

    def __init__(self, first: Any, name: str, inputs: Mapping[str, Any]) -> None:
        self.__dict__.update(first.__dict__, inputs=OrderedDict(inputs), __name__=name)
        self._first = first

    def __call__(self, *ranges: Any) -> Any:
        return self._first(*ranges)


def _sharing() -> Any:
    """The library's model, which compiles a formula once for all cells that differ in what they read alone."""
    library()
    from formulas.cell import Cell, wrap_cell_func
    from formulas.excel import ExcelModel
    from formulas.ranges import Ranges

    class Sharing(ExcelModel):
        def __init__(self) -> None:
            super().__init__()
            self.compiled: dict[str, Any] = {}
            self.blank = Cell(None, None)

        def compile_cell(self, cell: Any, context: Any, references: Any, formula_references: Any) -> Any:
            if cell.value is None:
                return self.blank  # which is dropped
            if cell.data_type != "f" or references or not isinstance(cell.value, str):
                return super().compile_cell(cell, context, references, formula_references)
            formula = cell.value.removeprefix("=")
            known = {name: Ranges.get_range(name, context)["name"] for name in names(formula)}
            read = sorted(set(known.values()))  # as the library orders its arguments
            pattern = substitute(formula, lambda name: f"@{read.index(known[name])}")
            first = self.compiled.get(pattern)
            if first is None:
                made = super().compile_cell(cell, context, references, formula_references)
                if list(made.func.inputs) == read:
                    self.compiled[pattern] = made.func.func
            else:
                made = Cell(cell.coordinate, None, context=context)
                inputs = {name: Ranges().push(name, context=context) for name in read}
                made.func = wrap_cell_func(_Alike(first, f"={formula}", inputs), made._args)
                made.update_inputs()
            made.func.pattern = pattern
            return made

    return Sharing()


@contextmanager
def _without_collection() -> Iterator[None]:
    """The library makes millions of lasting objects; searching them for garbage takes a third of the time."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


class FormulasModel:
    """One loaded workbook. Cells that differ in what they read alone share what the library compiled and answered.
    The first case computes the whole workbook, the next ones only what follows from their changes.

    `formulas`  every cell with a formula, as (sheet title, address)
    `inputs`    every cell that a case may change, with its value in the file: each constant and each unlocked cell
    """

    def __init__(self, path: Path) -> None:
        with _without_collection():
            self._load(path)

    def _load(self, path: Path) -> None:
        model = _sharing()
        from formulas.cell import CellWrapper

        book, context = model.add_book(str(Path(path).resolve()))
        self._file = Path(path).name
        self.formulas: set[tuple[str, str]] = set()
        self.inputs: dict[tuple[str, str], Value] = {}
        for sheet in book.worksheets:
            for cell in [cell for row in sheet.iter_rows() for cell in row]:
                key = sheet.title, cell.coordinate
                if cell.data_type == "f":
                    self.formulas.add(key)
                elif cell.value is not None or not cell.protection.locked:
                    self.inputs[key] = _plain(cell.value)
                    if cell.value is None:
                        cell.value = 0  # the library drops blank cells; one with a value can be set, to blank as well
        # Typed anew in every case: blanks, and numbers because the library rounds constants to 15 decimals on loading.
        self._typed = {key: value for key, value in self.inputs.items() if value is None or isinstance(value, float)}
        model.pushes(*book.worksheets, context=context)
        self._model = model.finish()
        answers: dict[str, dict[str, Any]] = {}
        for node in self._model.dsp.function_nodes.values():
            if isinstance(node["function"], CellWrapper):
                pattern = getattr(node["function"], "pattern", "")
                node["function"] = _Asked(node["function"], answers.setdefault(pattern, {}) if pattern else {})

    def calculate(self, changes: Mapping[tuple[str, str], Value] | None = None) -> Cells:
        """Value of every formula cell and every input after typing `changes`.

        None types a blank, a text such as "#N/A" the error value. KeyError when a change is no cell of `inputs`;
        EngineFailed when a formula cell got no value, as happens to circular formulas.
        """
        for sheet, address in set(changes or {}) - set(self.inputs):
            raise KeyError(f"{sheet}!{address} is no input of this workbook")
        with _without_collection():
            followed = self._untouched.after({self._node(key): _cell(value) for key, value in (changes or {}).items()})
        results: Cells = {key: _plain(value) for key, value in {**self.inputs, **(changes or {})}.items()}
        for key in self.formulas:
            node = self._node(key)
            results[key] = _plain(followed.get(node, self._untouched.values[node]).value[0, 0])
        return results

    @cached_property
    def _untouched(self) -> Solved:
        """The file as it is, computed whole by the library."""
        with _without_collection():
            solution = self._model.calculate(inputs={self._node(key): _cell(v) for key, v in self._typed.items()})
        for key in self.formulas:
            if self._node(key) not in solution:
                raise EngineFailed(f"formulas gave no value for {key[0]}!{key[1]}; is it part of a circle?")
        return Solved(self._model.dsp, solution)

    def _node(self, key: tuple[str, str]) -> str:
        return f"'[{self._file}]{key[0].upper()}'!{key[1]}"


def _cell(value: Value) -> np.ndarray:
    """A value as the library passes one cell around; a text such as "#N/A" becomes that error."""
    import schedula
    from formulas.tokens.operand import Error

    known = schedula.EMPTY if value is None else value
    return np.array([[Error.errors.get(known, known) if isinstance(known, str) else known]], object)


def _plain(value: object) -> Value:
    """A value of the library, or of a typed cell, as float, str, bool or None."""
    import schedula

    if value is None or value is schedula.EMPTY or (isinstance(value, str) and value == ""):
        return None
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | float | np.number):
        return float(value)
    return str(value)
