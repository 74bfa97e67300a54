"""The constants of medicine, physics and judgement, read once from specs/clinical/constants.toml."""

import tomllib
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING

CONSTANTS_FILE = Path(__file__).resolve().parents[2] / "specs" / "clinical" / "constants.toml"


class Constants(SimpleNamespace):
    """One attribute a constant, in the unit named in its row; frozen."""

    def __setattr__(self, key: str, value: object) -> None:
        raise AttributeError(f"constants are frozen: change {key!r} in {CONSTANTS_FILE.name}")

    def __delattr__(self, key: str) -> None:
        raise AttributeError(f"constants are frozen: change {key!r} in {CONSTANTS_FILE.name}")

    if TYPE_CHECKING:

        def __getattr__(self, key: str) -> float: ...


def load_constants(path: Path = CONSTANTS_FILE) -> Constants:
    """Constants of a TOML file with one [[constant]] table (key, value) each.

    Errors: ValueError naming the key when one is given twice; KeyError when a table lacks its key or value.
    """
    values: dict[str, float] = {}
    for row in tomllib.loads(path.read_text(encoding="utf-8"))["constant"]:
        if row["key"] in values:
            raise ValueError(f"{path.name}: constant {row['key']!r} is given twice; keep one row")
        values[row["key"]] = float(row["value"])
    return Constants(**values)


CONSTANTS = load_constants()
