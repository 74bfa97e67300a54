"""One direction: specs -> spec -> layout -> formula -> write; the reference stands apart and knows no cell.

Read from the source by its syntax tree, imports inside functions too. What a part may import is a decision of the
design, not a published value.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

# Each part of the builder and those that it may import, in the order in which they build on one another.
MAY_IMPORT: dict[str, tuple[str, ...]] = {
    "told": (),
    "spec": ("told",),
    "same": (),
    "version": (),
    "kept": ("spec",),
    "layout": ("spec",),
    "formula": ("spec", "layout"),
    "dump": ("spec", "layout", "formula"),
    "model": ("spec", "kept", "layout", "formula", "dump"),
    "witness": ("spec", "layout", "model"),
    "write": ("spec", "version", "kept", "layout", "formula", "model"),
    "reference": ("spec",),
    "optics": ("reference",),
    "shown": ("layout", "formula", "model"),
    "values": ("spec", "same", "layout", "model", "reference", "shown"),
    "exchange": ("told", "spec", "same", "layout", "model", "write", "values"),
    "trial": ("told", "spec", "model", "reference", "optics", "values", "exchange"),
    "editions": ("told", "spec", "same", "layout", "dump", "model", "values", "exchange"),
    "compare": ("spec", "same", "dump", "model", "exchange", "editions"),
    "audit": ("spec", "same", "layout", "dump", "model", "values", "exchange", "editions"),
    "reading": ("exchange", "audit"),
    "gather": ("spec", "layout", "model", "reference", "values", "exchange", "audit"),
    "simulation": ("spec", "model", "reference", "values", "exchange", "gather"),
    "twins": ("model", "reference", "values"),
    "explain": ("told", "spec", "layout", "dump", "model", "twins"),
    "build": ("spec", "same", "layout", "model", "exchange", "editions", "simulation"),
    "bench": (
        *("spec", "model", "write", "reference", "optics", "values", "exchange", "audit", "reading", "gather"),
        *("simulation", "build", "kept"),
    ),
    "arguments": ("version",),
    "cli": (
        *(
            "arguments",
            "told",
            "spec",
            "model",
            "exchange",
            "editions",
            "compare",
            "audit",
            "reading",
            "gather",
            "simulation",
        ),
        *("explain", "build", "bench", "optics", "trial"),
    ),
    "__main__": ("cli",),
}
# All that the reference may take from the house: words, constants, what an input or a point is, how a mistake is told.
REFERENCE_TAKES = {
    "builder.spec.words": {"Words"},
    "builder.spec.reading": {"read_constants"},
    "builder.spec.errors": {"SpecError"},
    "builder.spec.model": {"EYES", "ErrorValue", "Input", "Point"},
}
OPTICS_TAKES = {"builder.reference.constants": {"CONSTANTS"}}  # light knows no formula of the plan: it tries them
CALCULATING = {"numpy", "cmath", "statistics", "scipy"}  # what the writer does without: it rounds lines, no more


def imports(source: str, module: str) -> Iterator[tuple[str, str]]:
    """Every (module, name) that a source text imports; the name is "" where the module itself is imported."""
    package = module.split(".")[:-1]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from ((alias.name, "") for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else []
            origin = ".".join([*above, *([node.module] if node.module else [])])
            yield from ((origin, alias.name) for alias in node.names)


def modules() -> dict[str, str]:
    """The source of every module of the builder by its dotted name; a package's own file ends in __init__."""
    paths = sorted((ROOT / "builder").rglob("*.py"))
    return {".".join(path.relative_to(ROOT).with_suffix("").parts): path.read_text("utf-8") for path in paths}


SOURCES = modules()


def part_of(module: str) -> str:
    """The part of the house: the package or file right below builder/."""
    return module.split(".")[1]


def target(origin: str, name: str) -> str | None:
    """The module of the builder that an import brings in; None when it is another library's."""
    if origin != "builder" and not origin.startswith("builder."):
        return None
    for found in (f"{origin}.{name}", f"{origin}.{name}.__init__", origin, f"{origin}.__init__"):
        if found in SOURCES:
            return found
    raise ValueError(f"{origin} {name} is no module of the builder")


def faults(module: str, source: str) -> list[str]:
    """The imports of a module that its part may not make."""
    part = part_of(module)
    found = []
    for origin, name in imports(source, module):
        brought = target(origin, name)
        if brought and part_of(brought) not in (part, *MAY_IMPORT[part]):
            found.append(f"{module} imports {brought}")
        if part == "reference":
            taken = origin in REFERENCE_TAKES and name in REFERENCE_TAKES[origin]
            if brought and part_of(brought) != part and not taken:
                found.append(f"{module} takes {name or 'all'} from {origin}")
            if not brought and origin.split(".")[0] in {"openpyxl", "xlsxwriter", "formulas"}:
                found.append(f"{module} reads cells by {origin}")
        if part == "optics" and brought and part_of(brought) != part and name not in OPTICS_TAKES.get(origin, ()):
            found.append(f"{module} takes {name or 'all'} from {origin}")
        if part == "write" and origin.split(".")[0] in CALCULATING:
            found.append(f"{module} calculates by {origin}")
    return found


def test_the_table_names_every_part_and_only_earlier_ones_beside_it() -> None:
    parts = {part_of(module) for module in SOURCES} - {"__init__"}
    assert set(MAY_IMPORT) == parts
    order = list(MAY_IMPORT)
    for part, allowed in MAY_IMPORT.items():
        assert all(order.index(other) < order.index(part) for other in allowed), part


@pytest.mark.parametrize("part", MAY_IMPORT)
def test_a_part_imports_only_what_the_table_allows(part: str) -> None:
    mine = {module: source for module, source in SOURCES.items() if module != "builder.__init__"}
    mine = {module: source for module, source in mine.items() if part_of(module) == part}
    assert mine
    assert [fault for module, source in mine.items() for fault in faults(module, source)] == []


def test_no_module_imports_itself_in_a_circle() -> None:
    reads = {
        module: {found for origin, name in imports(source, module) if (found := target(origin, name))} - {module}
        for module, source in SOURCES.items()
    }
    while reads:
        free = {module for module, others in reads.items() if not others & set(reads)}
        assert free, f"a circle among {sorted(reads)}"
        reads = {module: others for module, others in reads.items() if module not in free}


@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("builder.spec.load", "from builder.layout import Place"),
        ("builder.layout", "import builder.write.sheet"),
        ("builder.formula.compile", "from builder import values"),
        ("builder.write.sheet", "from builder.reference.plan.cells import Values"),
        ("builder.write.sheet", "import numpy as np"),
        ("builder.write.charts", "from builder.cli import main"),
        ("builder.reference.toric", "from builder.model import load_model"),
        ("builder.reference.toric", "from builder.spec.load import load_workbook_spec"),
        ("builder.reference.plan.power", "from builder.spec.model import Row"),
        ("builder.reference.plan.power", "from ...formula import compile"),
        ("builder.reference.plan.power", "def late():\n    from openpyxl import load_workbook"),
        ("builder.exchange.read", "from builder.build import OUTPUT"),
        ("builder.optics.eye", "from builder.reference.toric import step_lens_power"),
        ("builder.optics.eye", "from builder.spec.words import Words"),
    ],
)
def test_a_forbidden_import_is_found(module: str, line: str) -> None:
    assert faults(module, line)
