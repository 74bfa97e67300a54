"""Copies the specs and plants a mistake in them."""

import shutil
from pathlib import Path

import pytest

from builder.engine.model import load_model
from builder.engine.spec import SpecError
from builder.engine.spec.reading import SPECS

FILE = "06-power.toml"
LABELS = 'planted_row = "Planted"\nplanted_other = "Planted"\n'


def copied_specs(folder: Path) -> Path:
    """A copy of the specs that may be spoilt, with labels for the planted rows."""
    specs = folder / "specs"
    shutil.copytree(SPECS, specs)
    words = next(specs.glob("words.en.toml"))
    words.write_text(words.read_text(encoding="utf-8").replace("[label]\n", "[label]\n" + LABELS, 1), encoding="utf-8")
    return specs


def plant(specs: Path, rows: str, *, key: str = "planted_block", instances: str = "eyes", more: str = "") -> None:
    """Adds a block of rows (or, with `more`, anything else) to the end of a sheet's file."""
    path = specs / "plan" / FILE
    block = f'\n[[block]]\nkey = "{key}"\ninstances = "{instances}"\nrows = [\n{rows}\n]\n' if rows else ""
    path.write_text(path.read_text(encoding="utf-8") + block + more, encoding="utf-8")


def spoil(path: Path, old: str, new: str) -> None:
    """Puts one text for another, once, in a spec file that must hold it."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def told(specs: Path) -> SpecError:
    """The mistake that reading these specs tells."""
    with pytest.raises(SpecError) as caught:
        load_model(specs=specs)
    return caught.value
