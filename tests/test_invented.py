"""Example and test lenses meet no maker's figures by chance, and ring segments stay out of the eyes that are shown."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import pytest

from builder.engine.spec.reading import SPECS
from tests.support.workbooks import case_files

LIMITS = ("every-limit", "past-every-limit")  # their lenses are the limits of the inputs, or a thousandth past them
STEPS, BEGINNING = (0.5, 0.75), [1.0, 1.5, 2.25]  # in D, of many a ladder that is sold (common practice, no source)


def _lenses() -> Iterator[tuple[str, str, list[float]]]:
    """Name, A constant as written, and the ladder of cylinders of every example and test lens."""
    with (SPECS / "plan" / "14-lenses.toml").open("rb") as handle:
        blocks = {block["key"]: block.get("rows", []) for block in tomllib.load(handle)["block"]}
    constants = next(row["cells"] for row in blocks["lens_table"] if row.get("key") == "lens_a")
    for key, a_constant in constants.items():
        cells = [row["cells"].get(key, "") for row in blocks["lens_cylinders"]]
        yield key, str(a_constant), [float(cell) for cell in cells if cell != ""]
    for name, case in _cases():
        for lens in case.get("lens", ()):
            if "a_constant" in lens and name not in LIMITS:
                yield f"{name}, {lens.get('name', 'nameless')}", str(lens["a_constant"]), lens.get("cylinders", [])


def _cases() -> Iterator[tuple[str, dict[str, Any]]]:
    for name, path in case_files().items():
        yield name, tomllib.loads(path.read_text(encoding="utf-8"))


def borrowed(a_constant: str, ladder: list[float]) -> str:
    """Why such a lens could be somebody's; empty if it is visibly invented."""
    decimals = a_constant.replace(",", ".").partition(".")[2]
    if len(decimals) < 2 or decimals[1] == "0":
        return "its A constant has no second decimal"
    steps = {round(after - before, 6) for before, after in pairwise(sorted(ladder))}
    if len(steps) == 1 and steps <= set(STEPS):
        return "its cylinders rise by a usual step"
    return "its cylinders begin as usual" if sorted(ladder)[:3] == BEGINNING else ""


def test_no_lens_of_ours_has_a_makers_figures() -> None:
    """Two decimals, the second not 0, and a ladder that nobody sells: examples, demo patients and test cases alike."""
    lenses = list(_lenses())
    assert len(lenses) > 20
    assert {name: why for name, a, ladder in lenses if (why := borrowed(a, ladder))} == {}


@pytest.mark.parametrize(
    ("a_constant", "ladder", "told"),
    [
        ("118.3", [1.3, 2.0], "second decimal"),
        ("119", [], "second decimal"),
        ("118.30", [], "second decimal"),
        ("118.27", [2.0, 1.5, 2.5], "usual step"),
        ("118.27", [1.1, 1.85, 2.6], "usual step"),
        ("118.27", [1.0, 1.5, 2.25, 3.1], "begin as usual"),
    ],
)
def test_a_borrowed_lens_is_noticed(a_constant: str, ladder: list[float], told: str) -> None:
    """The rule itself, at each of its ends."""
    assert told in borrowed(a_constant, ladder)


def test_ring_segments_are_in_no_demo_and_never_after_laser_ectasia() -> None:
    """The eyes that are shown have none; no eye of any case has both."""
    shown = {path.stem for path in (SPECS / "cases").glob("*.toml")}
    with_segments = set()
    for name, case in _cases():
        for eye in (case.get("right", {}), case.get("left", {})):
            if eye.get("ring_segments") == "yes" or "segment1_start" in eye:
                with_segments.add(name)
                assert eye.get("corneal_diagnosis") != "ectasia after laser", name
    assert len(with_segments) > 3
    assert not with_segments & shown
