"""Every module of the builder and of the tests can be imported, those too that only a command asks for."""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest

HOME = Path(__file__).resolve().parents[1]
ELSEWHERE = {  # run by another Python than this one
    "tests.support.gnumeric_states",  # by the system's, which has Gnumeric's library
    "tests.optics.library_rays",  # in an environment of its own, with a large library
}
MODULES = sorted(
    ".".join(path.relative_to(HOME).with_suffix("").parts)
    for folder in ("builder", "tests")
    for path in (HOME / folder).rglob("*.py")
    if path.name not in ("__init__.py", "conftest.py")
)


@pytest.mark.parametrize("module", [name for name in MODULES if name not in ELSEWHERE])
def test_it_can_be_imported(module: str) -> None:
    assert importlib.import_module(module).__doc__
