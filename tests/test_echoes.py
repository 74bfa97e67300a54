"""Each module of the reference says how it is a second opinion: by another method than the cells', or an echo of them.

That it is true was compared by hand, module by module, with the rows of `specs`; here it is held that none is silent.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
REFERENCE = ROOT / "builder" / "planner" / "reference"
METHOD, ECHO = "Another method: ", "An echo: "
ONE, OTHER = (rf"{opening}[^.]*\bcells\b[^.]*\." for opening in (METHOD, ECHO))
FORM = re.compile(rf"{ONE}( {OTHER})?|{OTHER}")


def computing() -> dict[str, str]:
    """The source of every module of the reference by its path, without packages' own files that define nothing."""
    sources = {path.relative_to(REFERENCE).as_posix(): path.read_text("utf-8") for path in REFERENCE.rglob("*.py")}
    return {
        name: source
        for name, source in sorted(sources.items())
        if not name.endswith("__init__.py")
        or any(isinstance(node, ast.FunctionDef | ast.ClassDef) for node in ast.walk(ast.parse(source)))
    }


def said(source: str) -> str:
    """The last paragraph of a module's docstring, on one line."""
    return " ".join((ast.get_docstring(ast.parse(source)) or "").split("\n\n")[-1].split())


def fault(source: str, methods: set[str]) -> str:
    """What is wrong with how a module says it; "" when nothing is. `methods`: the modules that have another method."""
    sentence = said(source)
    if not FORM.fullmatch(sentence):
        return "does not end its docstring with 'Another method: … cells ….' or 'An echo: … cells ….', or with both"
    body = source[len(ast.get_docstring(ast.parse(source), clean=False) or "") :]
    unknown = [name for name in re.findall(r"\b\w*_\w+", sentence) if name not in methods and name not in body]
    if unknown:
        return f"names {unknown}, which it has not"
    borrowed = {name for names in re.findall(r"\(([\w, ]+)\)", sentence) for name in names.split(", ")}
    return f"borrows a method from {sorted(borrowed - methods)}, which have none" if borrowed - methods else ""


SOURCES = computing()
METHODS = {Path(name).stem for name, source in SOURCES.items() if METHOD in said(source)}


def test_each_module_says_what_it_is() -> None:
    assert len(SOURCES) > 50
    assert [f"{name} {told}" for name, source in SOURCES.items() if (told := fault(source, METHODS))] == []


@pytest.mark.parametrize(
    "source",
    [
        '"""Adds."""\n',
        '"""Adds.\n\nAnother method: complex numbers.\n"""\n',
        '"""Adds.\n\nAn echo: sums as the cells compute them.\n\nMore.\n"""\n',
        '"""Adds.\n\nAn echo: sums as the cells compute them. Another method: none, where the cells add.\n"""\n',
        '"""Adds.\n\nAnother method: lost_name by roots, where the cells divide.\n"""\nkept_name = 1\n',
        '"""Adds.\n\nAnother method: matrices (status), where the cells divide.\n"""\n',
    ],
)
def test_a_module_that_keeps_silent_is_found(source: str) -> None:
    assert fault(source, METHODS)


def test_the_notes_have_the_count() -> None:
    count = sum(METHOD in said(source) for source in SOURCES.values())
    assert f"Of its {len(SOURCES)} modules {count} compute" in (ROOT / "DEVELOPERS.md").read_text("utf-8")
