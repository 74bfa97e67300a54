"""The constants of medicine, physics and judgement, read once from specs/clinical/constants.toml."""

from pathlib import Path
from types import SimpleNamespace

from builder.engine.spec.errors import SpecError
from builder.engine.spec.reading import read_constants

CONSTANTS_FILE = Path(__file__).resolve().parents[3] / "specs" / "clinical" / "constants.toml"


class Constants(SimpleNamespace):
    """One attribute a constant, in the unit named in its row; frozen."""

    def __setattr__(self, key: str, value: object) -> None:
        raise AttributeError(f"constants are frozen: change {key!r} in {CONSTANTS_FILE.name}")

    def __delattr__(self, key: str) -> None:
        raise AttributeError(f"constants are frozen: change {key!r} in {CONSTANTS_FILE.name}")

    def __getattr__(self, key: str) -> float:
        """A constant that is not there. Raises SpecError, and AttributeError for what Python itself asks for."""
        if key.startswith("__"):
            raise AttributeError(key)
        todo = "Give it an entry, or change what asks for it in builder/planner/reference"
        raise SpecError(CONSTANTS_FILE.name, key, "is not there, but the reference computes with it", todo)


def load_constants(path: Path = CONSTANTS_FILE) -> Constants:
    """The constants of a file. Raises SpecError for an entry that is none, or is there twice."""
    return Constants(**{entry["key"]: float(entry["value"]) for entry in read_constants(path)})


CONSTANTS = load_constants()
SLACK = CONSTANTS.rounding_slack
AXIS_FREE = CONSTANTS.axis_free_below - SLACK  # a cylinder below it has no axis
