"""The one way in which a mistake in a spec is told."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

from builder.engine.told import Told


class SpecError(Told):
    """A mistake in a spec: file and key, what is wrong, what to do."""

    def __init__(self, file: str, key: str, wrong: str, todo: str) -> None:
        super().__init__(f"{file}, '{key}': {wrong}. {todo}{'' if todo.endswith('?') else '.'}")
        self.file, self.key = file, key
        self._parts = file, key, wrong, todo

    def __reduce__(self) -> tuple[type[SpecError], tuple[str, str, str, str]]:
        """As it travels from one process to another."""
        return SpecError, self._parts


def nearest(name: str, known: Iterable[str]) -> str:
    """A sentence part that names the closest known name, or says that none is close."""
    close = get_close_matches(name, list(known), n=1, cutoff=0.6)
    return f"did you mean '{close[0]}'?" if close else "no known name is close to it"
