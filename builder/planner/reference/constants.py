"""The constants of medicine, physics and judgement that are computed with: those that a caller holds.

Nothing keeps one of them at import: a table at the top of a module, or a default, names a constant by its key.

An echo: the constants themselves, read from the file that the cells' constants are read from; nothing is computed.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import cast

from builder.engine.spec.errors import SpecError
from builder.engine.spec.reading import read_constants

CONSTANTS_FILE = Path(__file__).resolve().parents[3] / "specs" / "clinical" / "constants.toml"


def _frozen(key: str) -> AttributeError:
    return AttributeError(f"constants are frozen: change {key!r} in {CONSTANTS_FILE.name}")


class Constants(SimpleNamespace):
    """One attribute a constant, in the unit named in its row; frozen."""

    def __setattr__(self, key: str, value: object) -> None:
        raise _frozen(key)

    def __delattr__(self, key: str) -> None:
        raise _frozen(key)

    def __getattr__(self, key: str) -> float:
        """A constant that is not there. Raises SpecError, and AttributeError for what Python itself asks for."""
        if key.startswith("__"):
            raise AttributeError(key)
        todo = "Give it an entry, or change what asks for it in builder/planner/reference"
        raise SpecError(CONSTANTS_FILE.name, key, "is not there, but the reference computes with it", todo)

    def has(self, key: str) -> bool:
        """Whether there is a constant of this key."""
        return key in vars(self)

    @property
    def axis_free(self) -> float:
        """A cylinder below it has no axis."""
        return float(self.axis_free_below - self.rounding_slack)


def load_constants(path: Path = CONSTANTS_FILE) -> Constants:
    """The constants of a file. Raises SpecError for an entry that is none, or is there twice."""
    return Constants(**{entry["key"]: float(entry["value"]) for entry in read_constants(path)})


_held: ContextVar[Constants | None] = ContextVar("constants", default=None)
_of_the_file = cache(load_constants)  # of whoever holds none


class _Held:
    """The constants that are held while it is asked; without any, those of the file."""

    def __getattr__(self, key: str) -> float:
        return cast(float, getattr(_held.get() or _of_the_file(), key))

    def __setattr__(self, key: str, value: object) -> None:
        raise _frozen(key)

    def __delattr__(self, key: str) -> None:
        raise _frozen(key)


CONSTANTS = cast(Constants, _Held())


@contextmanager
def held(constants: Constants) -> Iterator[None]:
    """All that is computed within is computed with these constants."""
    before = _held.set(constants)
    try:
        yield
    finally:
        _held.reset(before)
