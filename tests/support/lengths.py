"""How long and how deep formulas are: those that a person types into the specs, and those that stand in cells."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from openpyxl.formula.tokenizer import Token

from builder.engine.model import load_model
from builder.engine.spec.patterns import read_patterns, spelt_out
from builder.engine.spec.reading import SPECS, read_toml
from builder.engine.spec.tokens import parts
from builder.planner.books import PLAN, REGISTER

LONGEST_TYPED, DEEPEST_TYPED, LONGEST_IN_CELLS = 120, 2, 150
TYPED_IN = ("formula", "conflict", "live", "sentence", "shown", "when", "picked", "at", "by", "otherwise")

QUOTED = re.compile(r'"(?:[^"]|"")*"')
TITLE = re.compile(r"'(?:[^']|'')+'!|\b[A-Za-z]\w*!")


def without_texts(formula: str) -> str:
    """A formula with its texts empty and one letter for each sheet: another wording or language is no other length."""
    return TITLE.sub("S!", QUOTED.sub('""', formula))


def depth(formula: str) -> int:
    """How many IF stand inside one another."""
    open_ifs: list[bool] = []
    deepest = 0
    for token in parts(formula.replace("#", "each").replace("@", "self")):
        if token.subtype == Token.OPEN:
            open_ifs.append(token.value.upper() == "IF(")
            deepest = max(deepest, sum(open_ifs))
        elif token.subtype == Token.CLOSE:
            open_ifs.pop()
    return deepest


def _typed_in(entry: Any, key: str) -> Iterator[tuple[str, str]]:
    """The formulas in an entry of a spec file and below it, each with the key by which it is known."""
    if isinstance(entry, list):
        for part in entry:
            yield from _typed_in(part, key)
    elif isinstance(entry, dict):
        key = str(entry.get("key", key))
        for name, value in entry.items():
            if name in TYPED_IN and isinstance(value, str):
                yield key, value
            elif name == "formulas":
                yield from ((f"{key}.{instance}", formula) for instance, formula in value.items())
            elif name == "first_of":
                texts = (text for case in value for text in ([case] if isinstance(case, str) else case))
                yield from ((key, text) for text in texts)
            else:
                yield from _typed_in(value, key)


def typed() -> Iterator[tuple[str, str]]:
    """Every formula of the specs with its file and key; of a row that chooses, each condition and value."""
    folders = (SPECS / book for book in (PLAN, REGISTER))
    files = [path for folder in folders for path in sorted((*folder.glob("[0-9]*.toml"), *folder.glob("rowsets.toml")))]
    for path in files:
        name = f"{path.parent.name}/{path.stem}"
        yield from ((f"{name} {key}", formula) for key, formula in _typed_in(read_toml(Path(path)), ""))


def in_cells() -> Iterator[tuple[str, str]]:
    """Every formula in cells of both English workbooks, with workbook, list and row."""
    for model in (load_model(PLAN), load_model(REGISTER, lines=12)):
        for cell in model.compiled.values():
            row, instance = cell.slot.row, cell.slot.instance
            which = f".{instance}" if instance in row.formulas else ""
            yield f"{model.spec.name}/{cell.slot.block.instances.name} {row.key}{which}", cell.formula


def too_much() -> dict[str, dict[str, int]]:
    """What is beyond each aim, by key: the longest as typed, the deepest with its patterns, the longest in cells."""
    found: dict[str, dict[str, int]] = {"typed": {}, "deep": {}, "cells": {}}
    patterns = read_patterns(SPECS / read_toml(SPECS / PLAN / "workbook.toml")["patterns"])
    for key, formula in typed():
        _note(found["typed"], key, len(formula), LONGEST_TYPED)
        _note(found["deep"], key, depth(spelt_out(key, key, formula, patterns)), DEEPEST_TYPED)
    for key, formula in in_cells():
        _note(found["cells"], key, len(without_texts(formula)), LONGEST_IN_CELLS)
    return found


def _note(table: dict[str, int], key: str, size: int, aim: int) -> None:
    if size > aim:
        table[key] = max(size, table.get(key, 0))
