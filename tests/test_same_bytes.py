"""The same specs give the same bytes, whatever the folder, the process or the order of hashes."""

import hashlib
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from builder.engine.editions import store
from builder.engine.spec.reading import SPECS
from builder.engine.version import VERSION, WRITER
from builder.planner.build import BLANK, DEMO, OUTPUT, Built, build, build_book, build_books, differing

RESULT = re.compile(rb"(</f><v>)(-?[0-9]+\.[0-9]{6,})(?=</v>)")
REBUILT = (
    "output/ is rebuilt once for each finished piece of work, with its last commit (python -m builder build); "
    "until then this test tells that it was not yet"
)


def _digests(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(folder.iterdir())}


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> list[Built]:
    """A fresh build."""
    return build_books(tmp_path_factory.mktemp("built"))


@pytest.fixture(scope="module")
def built(books: list[Built]) -> list[Path]:
    """Its files."""
    return [path for book in books for path in book.files]


def test_two_builds_are_the_same(built: list[Path], tmp_path: Path) -> None:
    """Another process, with another seed of hashes and another folder, builds identical files."""
    script = (
        "import sys; from pathlib import Path; from builder.planner.build import build_books as b; b(Path(sys.argv[1]))"
    )
    subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)],
        check=True,
        cwd=SPECS.parent,
        env={**os.environ, "PYTHONHASHSEED": "4242"},
    )
    first = _digests(built[0].parent)
    assert {BLANK, DEMO, "outcome-register.xlsx", "current-plan.txt", "current-plan-es.txt"} <= set(first)
    assert _digests(tmp_path) == first


def test_output_is_what_the_specs_build(built: list[Path]) -> None:
    """The workbooks and dumps that stand here are what the specs build now; if not: python -m builder build."""
    found = list(differing(OUTPUT, built)) + store.broken()
    assert not found, "\n".join([*found, REBUILT])


def _copy(built: list[Path], folder: Path) -> None:
    for path in built:
        (folder / path.name).write_bytes(path.read_bytes())


def test_differences_are_found(built: list[Path], tmp_path: Path) -> None:
    """A changed, a missing and a stale file are told one by one, and a fresh build has nothing to tell."""
    _copy(built, tmp_path)
    assert not list(differing(tmp_path, built, tmp_path))
    blank, demo, dump = (tmp_path / path.name for path in built[:3])
    assert (blank.name, demo.name, dump.name) == (BLANK, DEMO, "current-plan.txt")
    demo.write_bytes(blank.read_bytes())
    dump.write_text(dump.read_text(encoding="utf-8") + "one line more\n", encoding="utf-8")
    blank.unlink()
    told = list(differing(tmp_path, built, tmp_path))
    files = [line for line in told if not line.startswith(" ")]
    assert [line.split(" ")[0] for line in files] == [blank.name, demo.name, dump.name]
    assert all("python -m builder build" in line for line in files)
    assert any("!" in line and " is now " in line for line in told), "sheet and cell of a difference"


def test_a_build_leaves_alone_what_is_the_same(
    books: list[Built], built: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stored number that differs in its last digits stays as it is; one that differs more is written anew."""
    _copy(built, tmp_path)
    demo, register = tmp_path / DEMO, tmp_path / "outcome-register-demo.xlsx"
    spoil(demo, 1 + 1e-13)
    spoil(register, 1 + 1e-6)
    before = _digests(tmp_path)
    monkeypatch.setattr("builder.planner.build.build_books", lambda *_: books)
    assert [path for book in build(tmp_path, tmp_path) for path in book.files] == [tmp_path / p.name for p in built]
    after = _digests(tmp_path)
    assert {name for name in before if before[name] != after[name]} == {register.name}
    assert after[register.name] == _digests(built[0].parent)[register.name]


def spoil(path: Path, factor: float) -> None:
    """Multiplies the first stored result of a formula that is a decimal fraction."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    for name in sorted(parts):
        found = RESULT.search(parts[name]) if name.startswith("xl/worksheets/sheet") else None
        if found:
            value = repr(float(found[2]) * factor).encode()
            assert value != found[2]
            parts[name] = parts[name][: found.start(2)] + value + parts[name][found.end(2) :]
            break
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)


@pytest.mark.parametrize("demos", [(), ("es",)])
def test_the_demos_of_other_languages_are_built_on_request(demos: tuple[str, ...], tmp_path: Path) -> None:
    """They are no part of output/."""
    files = {path.name for path in build_book("plan", "es", tmp_path, "es" in demos).files}
    assert files == {"libro-de-plan.xlsx", "current-plan-es.txt"} | ({"libro-de-plan-demo.xlsx"} if demos else set())
    assert not {path.name for path in OUTPUT.glob("libro*-demo.xlsx")} - git_ignored()


def git_ignored() -> set[str]:
    """The files of output/ that are not committed."""
    lines = (SPECS.parent / ".gitignore").read_text(encoding="utf-8").splitlines()
    return {line.removeprefix("output/") for line in lines if line.startswith("output/")}


def test_the_file_names_its_own_writer(built: list[Path]) -> None:
    """The properties of the document name the builder and its version; no other program."""
    for path in built:
        if path.suffix == ".xlsx":
            with zipfile.ZipFile(path) as archive:
                text = archive.read("docProps/app.xml").decode()
            major, minor, patch = VERSION.split(".")
            assert f"<Application>{WRITER}</Application>" in text
            assert f"<AppVersion>{major}.{int(minor):02}{int(patch):02}</AppVersion>" in text


def test_the_edition_comes_from_the_dump(built: list[Path]) -> None:
    """An edition is the version and a hash of the readable dump; the dump of each language holds its own."""
    for path in built:
        if path.name.startswith(store.CURRENT):
            assert store.edition_from(path).edition == store.head_of(path)[0]
