"""One direction: the engine knows nothing of the planner, and the reference stands apart and knows no cell.

Read from the source by its syntax tree, imports inside functions too; the module that a workbook names as its reference
is called by that name alone. What a part may import is a decision of the
design, not a published value.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

# Each part of the builder and those that it may import, in the order in which they build on one another: first the
# engine, which imports nothing of the planner. A part without a dot is a file right below builder/.
ENGINE: dict[str, tuple[str, ...]] = {
    "told": (),
    "addresses": (),
    "spec": ("told",),
    "same": ("addresses",),
    "version": (),
    "kept": ("spec",),
    "layout": (
        "addresses",
        "spec",
    ),
    "formula": ("addresses", "spec", "layout"),
    "dump": ("spec", "layout", "formula"),
    "model": ("spec", "kept", "layout", "formula", "dump"),
    "witness": ("addresses", "spec", "layout", "model"),
    "write": ("addresses", "spec", "version", "kept", "layout", "formula", "model"),
    "shown": ("layout", "formula", "model"),
    "values": ("spec", "kept", "same", "layout", "model", "witness", "shown"),
    "twins": ("layout", "model", "values"),
    "exchange": ("addresses", "told", "spec", "same", "layout", "model", "write", "values"),
    "editions": ("addresses", "told", "spec", "same", "layout", "dump", "model", "values", "exchange"),
    "audit": ("addresses", "spec", "same", "layout", "dump", "model", "values", "exchange", "editions"),
    "compare": ("addresses", "spec", "same", "dump", "model", "exchange", "editions"),
    "explain": ("addresses", "told", "spec", "layout", "dump", "model", "twins"),
}
PLANNER: dict[str, tuple[str, ...]] = {  # beside the engine, of which the reference takes the spec alone, light nothing
    "books": (),
    "reference": (),
    "optics": ("reference",),
    "values": ("books", "reference"),
    "exchange": ("reference", "values"),
    "trial": ("reference", "optics", "values", "exchange"),
    "cases": ("exchange",),
    "reading": ("exchange",),
    "gather": ("books", "reference", "values", "exchange"),
    "simulation": ("reference", "values", "exchange", "gather"),
    "build": ("books", "cases", "exchange", "simulation"),
    "bench": ("books", "reference", "optics", "values", "exchange", "reading", "gather", "simulation", "build"),
}
OF_THE_ENGINE = {"reference": ("spec",), "optics": ()}
MAY_IMPORT: dict[str, tuple[str, ...]] = {
    **{f"engine.{part}": tuple(f"engine.{one}" for one in others) for part, others in ENGINE.items()},
    **{
        f"planner.{part}": (
            *(f"engine.{one}" for one in OF_THE_ENGINE.get(part, ENGINE)),
            *(f"planner.{one}" for one in others),
        )
        for part, others in PLANNER.items()
    },
    "arguments": ("engine.version",),
    "cli": (
        *(
            "arguments",
            *(f"engine.{part}" for part in ("told", "spec", "model", "exchange", "audit", "compare", "explain")),
        ),
        *(f"planner.{part}" for part in PLANNER if part not in ("reference", "values")),
    ),
    "__main__": ("cli",),
}
# All that the reference may take from the house: words, constants, what an input or a point is, how a mistake is told.
REFERENCE_TAKES = {
    "builder.engine.spec.words": {"Words"},
    "builder.engine.spec.reading": {"SPECS", "read_constants", "read_toml"},
    "builder.engine.spec.errors": {"SpecError"},
    "builder.engine.spec.model": {"ErrorValue", "Input", "Point"},
}
OPTICS_TAKES = {"builder.planner.reference.constants": {"CONSTANTS"}}  # light tries the formulas: it knows none
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
    """The part of the house: the package or file right below engine/ or planner/, or else below builder/."""
    names = module.split(".")
    return ".".join(names[1:3]) if names[1] in ("engine", "planner") else names[1]


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
        if part == "planner.reference":
            taken = origin in REFERENCE_TAKES and name in REFERENCE_TAKES[origin]
            if brought and part_of(brought) != part and not taken:
                found.append(f"{module} takes {name or 'all'} from {origin}")
            if not brought and origin.split(".")[0] in {"openpyxl", "xlsxwriter", "formulas"}:
                found.append(f"{module} reads cells by {origin}")
        stranger = bool(brought) and part_of(brought or "") != part
        if part == "planner.optics" and stranger and name not in OPTICS_TAKES.get(origin, ()):
            found.append(f"{module} takes {name or 'all'} from {origin}")
        if part == "engine.write" and origin.split(".")[0] in CALCULATING:
            found.append(f"{module} calculates by {origin}")
    return found


def test_the_table_names_every_part_and_only_earlier_ones_beside_it() -> None:
    parts = {part_of(module) for module in SOURCES if not part_of(module).endswith("__init__")}
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
        ("builder.engine.spec.load", "from builder.engine.layout import Place"),
        ("builder.engine.layout", "import builder.engine.write.sheet"),
        ("builder.engine.formula.compile", "from builder.planner import values"),
        ("builder.engine.write.sheet", "from builder.planner.reference.plan.cells import Values"),
        ("builder.engine.write.sheet", "import numpy as np"),
        ("builder.engine.write.charts", "from builder.cli import main"),
        ("builder.engine.audit.sheet", "from builder.planner.values import cell_values"),
        ("builder.planner.reference.toric", "from builder.engine.model import load_model"),
        ("builder.planner.reference.toric", "from builder.engine.spec.load import load_workbook_spec"),
        ("builder.planner.reference.plan.power", "from builder.engine.spec.model import Row"),
        ("builder.planner.reference.plan.power", "from ....engine.formula import compile"),
        ("builder.planner.reference.plan.power", "def late():\n    from openpyxl import load_workbook"),
        ("builder.planner.exchange.read", "from builder.planner.build import OUTPUT"),
        ("builder.planner.optics.eye", "from builder.planner.reference.toric import step_count"),
        ("builder.planner.optics.eye", "from builder.engine.spec.words import Words"),
    ],
)
def test_a_forbidden_import_is_found(module: str, line: str) -> None:
    assert faults(module, line)
