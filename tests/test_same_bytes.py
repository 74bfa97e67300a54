"""The same specs give the same bytes, whatever the folder, the process or the order of hashes."""

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from builder.build import BLANK, DEMO, DUMP, OUTPUT, books, build, differing
from builder.editions import store
from builder.model import Model
from builder.spec.load import SPECS


def _digests(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(folder.iterdir())}


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """A build in this process."""
    return build(tmp_path_factory.mktemp("built"))


def test_two_builds_are_the_same(built: list[Path], tmp_path: Path) -> None:
    """Another process, with another seed of hashes and another folder, builds identical files."""
    script = "import sys; from pathlib import Path; from builder.build import build; build(Path(sys.argv[1]))"
    subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)],
        check=True,
        cwd=SPECS.parent,
        env={**os.environ, "PYTHONHASHSEED": "4242"},
    )
    first = _digests(built[0].parent)
    assert {BLANK, DEMO, DUMP, "outcome-register.xlsx", "outcome-register.txt"} <= set(first)
    assert _digests(tmp_path) == first


def test_output_is_what_the_specs_build(built: list[Path]) -> None:
    """The committed workbooks, dumps and editions are what the specs build now; if not: python -m builder build."""
    assert not list(differing(OUTPUT, built))
    assert not [fault for model in books() for fault in store.faults(model)]


def test_differences_are_found(built: list[Path], tmp_path: Path) -> None:
    """A changed, a missing and a stale file are told one by one, and a fresh build has nothing to tell."""
    folder = Path(shutil.copytree(built[0].parent, tmp_path / "committed"))
    assert not list(differing(folder, built))
    blank, demo, dump = (folder / path.name for path in built[:3])
    shutil.copyfile(blank, demo)
    dump.write_text(dump.read_text(encoding="utf-8") + "one line more\n", encoding="utf-8")
    blank.unlink()
    told = list(differing(folder, built))
    assert [line.split(" ")[0] for line in told] == [blank.name, demo.name, dump.name]
    assert all("python -m builder build" in line for line in told)


def test_the_edition_comes_from_the_dump(model: Model, built: list[Path]) -> None:
    """The edition on every sheet and page is the version and a hash of the readable dump."""
    text = built[2].read_text(encoding="utf-8")
    edition, *lines = text.rstrip("\n").split("\n")
    assert (
        edition
        == model.edition
        == f"{model.spec.version}-{hashlib.sha256(chr(10).join(lines).encode()).hexdigest()[:8]}"
    )
