"""The same specs give the same bytes, whatever the folder, the process or the order of hashes."""

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

from builder.build import BLANK, DEMO, DUMP, build, differences
from builder.model import Model
from builder.spec.load import SPECS


def _digests(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(folder.iterdir())}


def test_two_builds_are_the_same(tmp_path: Path) -> None:
    """Two builds in one process and one in another, with another seed of hashes, give identical files."""
    script = "import sys; from pathlib import Path; from builder.build import build; build(Path(sys.argv[1]))"
    for folder, seed in (
        (tmp_path / "first", None),
        (tmp_path / "second", None),
        (tmp_path / "third", "1"),
        (tmp_path / "fourth", "4242"),
    ):
        if seed is None:
            build(folder)
        else:
            subprocess.run(
                [sys.executable, "-c", script, str(folder)],
                check=True,
                cwd=SPECS.parent,
                env={**os.environ, "PYTHONHASHSEED": seed},
            )
    first = _digests(tmp_path / "first")
    assert {BLANK, DEMO, DUMP, "outcome-register.xlsx", "outcome-register.txt"} <= set(first)
    assert all(_digests(tmp_path / name) == first for name in ("second", "third", "fourth"))


def test_differences_are_found(tmp_path: Path) -> None:
    """A changed, a missing and a stale file are told one by one, and a fresh build has nothing to tell."""
    blank, demo, dump, *_ = build(tmp_path)
    assert differences(tmp_path) == []
    shutil.copyfile(blank, demo)
    dump.write_text(dump.read_text(encoding="utf-8") + "one line more\n", encoding="utf-8")
    blank.unlink()
    told = differences(tmp_path)
    assert [line.split(" ")[0] for line in told] == [blank.name, demo.name, dump.name]
    assert all("python -m builder build" in line for line in told)


def test_the_edition_comes_from_the_dump(model: Model, tmp_path: Path) -> None:
    """The edition on every sheet and page is the version and a hash of the readable dump."""
    text = build(tmp_path)[2].read_text(encoding="utf-8")
    edition, *lines = text.rstrip("\n").split("\n")
    assert (
        edition
        == model.edition
        == f"{model.spec.version}-{hashlib.sha256(chr(10).join(lines).encode()).hexdigest()[:8]}"
    )
