"""Single mistakes in what the spec files say, planted as the files are read, so that nothing is copied or written."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any, BinaryIO

import pytest

from builder.engine.spec import reading
from builder.engine.spec.reading import SPECS

Where = tuple[str | int, ...]
Change = Callable[[Any, Any], None]  # of the table or list and the key in it, at which the mistake is made


@cache
def said(file: str) -> Any:
    """What a spec file says."""
    return tomllib.loads((SPECS / file).read_text(encoding="utf-8"))


def places(node: Any, above: Where = ()) -> Iterator[tuple[Where, Any]]:
    """Every place in what a file says, with what stands there."""
    for key, value in node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ():
        yield (*above, key), value
        yield from places(value, (*above, key))


def first(file: str, *keys: str) -> Where:
    """The first place in a file below these keys, one after another; `#` is any entry of a list."""
    for where, _ in places(said(file)):
        if tuple("#" if isinstance(key, int) else key for key in where)[-len(keys) :] == keys:
            return where
    raise LookupError(f"{file} has nothing at {keys}")


def put(value: Any) -> Change:
    """Puts another value in the place."""
    return lambda node, key: node.__setitem__(key, value)


def gone(node: Any, key: Any) -> None:
    """Takes out what stands there."""
    del node[key]


def renamed(new: str) -> Change:
    """Another key for what stands there, at the same place."""

    def change(node: dict[str, Any], key: str) -> None:
        held = list(node.items())
        node.clear()
        node.update((new if name == key else name, value) for name, value in held)

    return change


@contextmanager
def mistaken(file: str, where: Where, change: Change) -> Iterator[None]:
    """While it lasts, this file is read with this mistake in it."""

    def load(handle: BinaryIO) -> Any:
        path = Path(handle.name)
        if path != SPECS / file:
            return tomllib.load(handle)
        node = root = copy.deepcopy(said(file))
        for key in where[:-1]:
            node = node[key]
        change(node, where[-1])
        return root

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reading, "tomllib", SimpleNamespace(load=load, TOMLDecodeError=tomllib.TOMLDecodeError))
        yield
