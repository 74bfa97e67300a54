"""The rules of the house for its own files: what is public is described and typed, and no file is too long."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
LONGEST = 250  # lines of a file; what is longer is split by what belongs together
# What may be longer: a list that has one home and one order, in which a key is sought and not read from top to bottom.
LONGER = {
    "specs/words.en.toml": "every text has one home",
    "specs/register/words.en.toml": "every text has one home",
    "specs/clinical/constants.toml": "every number has one home",
    "specs/clinical/patterns.toml": "every pattern has one home, and calls those above it",
    "specs/clinical/sources.toml": "every publication has one home",
    "specs/hazards.toml": "every hazard has one home",
    "specs/plan/words.en.toml": "every text has one home",
    "specs/plan/instances.toml": "every list has one home",
    "specs/plan/16-points.toml": "the points in the order in which they are told",
    "specs/plan/16a-proof.toml": "one sheet, a check a line",
    "tests/support/deceits_seen.py": "one catalogue, a deceit an entry",
    "tests/cases/every-limit.toml": "every input once, each at its limit",
    "tests/cases/past-every-limit.toml": "every input once, each past its limit",
}
Definition = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


def public(node: ast.AST, name: str) -> Iterator[tuple[str, Definition]]:
    """The public functions, classes and methods below a module or class, with their dotted names."""
    for part in ast.iter_child_nodes(node):
        if isinstance(part, Definition) and not part.name.startswith("_"):
            yield f"{name}.{part.name}", part
            if isinstance(part, ast.ClassDef):
                yield from public(part, f"{name}.{part.name}")


def faults(source: str, name: str) -> list[str]:
    """What of a module's public part lacks a docstring or an annotation."""
    tree = ast.parse(source)
    found = [] if ast.get_docstring(tree) else [f"{name} has no docstring"]
    for called, node in public(tree, name):
        said = ast.get_docstring(node) or ""
        if not said:
            found.append(f"{called} has no docstring")
        elif not said.splitlines()[0].endswith("."):
            found.append(f"{called} does not say what it gives in the first line of its docstring")
        elif re.sub(r"\W|_", "", said).casefold() == node.name.replace("_", "").casefold():
            found.append(f"{called} has its name as docstring")
        if isinstance(node, ast.ClassDef):
            continue
        given = node.args
        taken = [*given.posonlyargs, *given.args, *given.kwonlyargs, *filter(None, (given.vararg, given.kwarg))]
        bare = [arg.arg for arg in taken if arg.annotation is None and arg.arg not in ("self", "cls")]
        found += [f"{called} does not say what {arg} is" for arg in bare]
        if node.returns is None:
            found.append(f"{called} does not say what it gives")
    return found


def lengths() -> dict[str, int]:
    """The lines of every Python and spec file, editions apart: they are dumps."""
    paths = [*ROOT.glob("builder/**/*.py"), *ROOT.glob("tests/**/*.py"), *ROOT.glob("tests/**/*.toml")]
    paths += [path for path in ROOT.glob("specs/**/*.toml") if path.parent.name != "editions"]
    return {str(path.relative_to(ROOT)): len(path.read_text("utf-8").splitlines()) for path in paths}


def test_all_that_is_public_is_described_and_typed() -> None:
    paths = sorted((ROOT / "builder").rglob("*.py"))
    assert len(paths) > 100
    assert [fault for path in paths for fault in faults(path.read_text("utf-8"), str(path.relative_to(ROOT)))] == []


@pytest.mark.parametrize(
    ("source", "told"),
    [
        ("x = 1", "m has no docstring"),
        ('"""M."""\ndef named() -> int:\n    return 1', "m.named has no docstring"),
        ('"""M."""\ndef named(x) -> int:\n    """N."""', "m.named does not say what x is"),
        ('"""M."""\ndef named(*, x: int):\n    """N."""', "m.named does not say what it gives"),
        (
            '"""M."""\ndef named() -> int:\n    """One that goes\n    on."""',
            "m.named does not say what it gives in the first line of its docstring",
        ),
        ('"""M."""\ndef its_name() -> int:\n    """Its name."""', "m.its_name has its name as docstring"),
        ('"""M."""\nclass Thing:\n    """T."""\n    def part(self) -> int: ...', "m.Thing.part has no docstring"),
    ],
)
def test_what_is_not_described_or_typed_is_found(source: str, told: str) -> None:
    assert faults(source, "m") == [told]


def test_no_file_is_too_long_but_those_with_a_reason() -> None:
    """A file that is shorter again loses its place among the exceptions."""
    assert {file for file, lines in lengths().items() if lines > LONGEST} == set(LONGER)
