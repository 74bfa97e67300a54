"""Run LibreOffice without a window, each time with a profile of its own."""

import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from builder.engine.told import Told

ENGLISH_NUMBERS = "en-US"  # where text is written, that a point is a point on every machine
TIMEOUT = 600  # seconds for one call, however many files it opens

_ITEM = (
    '<item oor:path="/org.openoffice.Office.Calc/Formula/Load">'
    '<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>{mode}</value></prop></item>'
)
_LOCALE = (
    '<item oor:path="/org.openoffice.Setup/L10N">'
    '<prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>{locale}</value></prop></item>'
)
_SETTINGS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<oor:items xmlns:oor="http://openoffice.org/2001/registry" '
    'xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">{items}'
    "</oor:items>\n"
)


class EngineMissing(Told):
    """A program that recalculates workbooks is not installed."""


class EngineFailed(Told):
    """A program that recalculates workbooks did not give back a file."""


def program(name: str, package: str) -> str:
    """Path of an installed program; EngineMissing says which package has it."""
    found = shutil.which(name)
    if not found:
        raise EngineMissing(f"{name} is not installed; on Debian: apt-get install {package}")
    return found


def soffice() -> str:
    """Path of LibreOffice."""
    return program("soffice", "libreoffice-calc-nogui")


@contextmanager
def profile(recalculate: bool, locale: str = "") -> Iterator[Path]:
    """A fresh user profile: parallel runs do not meet, and a person's settings play no part.

    With `recalculate` every formula is computed on load; without it the program's default stands, which
    shows the values stored in a file that another program wrote. `locale`: of the office, such as "es-ES", which
    decides how numbers are typed and written.
    """
    soffice()
    with tempfile.TemporaryDirectory(prefix="office-") as name:
        home = Path(name)
        (home / "user").mkdir()
        items = (_ITEM.format(mode=0) if recalculate else "") + (_LOCALE.format(locale=locale) if locale else "")
        (home / "user" / "registrymodifications.xcu").write_text(_SETTINGS.format(items=items), encoding="utf-8")
        yield home


def run(home: Path, *arguments: str) -> str:
    """One call of LibreOffice with this profile; what it printed."""
    command = [soffice(), f"-env:UserInstallation={home.as_uri()}", "--headless", "--norestore", *arguments]
    done = subprocess.run(command, capture_output=True, text=True, timeout=TIMEOUT, check=False)
    if done.returncode:
        raise EngineFailed(f"LibreOffice stopped with {done.returncode}: {done.stderr.strip()}")
    return done.stdout + done.stderr


def convert(
    paths: Sequence[Path], target: Path, kind: str = "xlsx", recalculate: bool = True, locale: str = ""
) -> list[Path]:
    """Open all files in one call and save each as `kind` ("xlsx", "pdf") in `target`, in the order given."""
    return [file for (file,) in _converted(paths, target, kind, [[f".{kind}"]] * len(paths), recalculate, locale)]


def convert_sheets(
    paths: Sequence[Path],
    target: Path,
    kind: str,
    titles: Sequence[Sequence[str]],
    recalculate: bool,
    locale: str = ENGLISH_NUMBERS,
) -> list[dict[str, Path]]:
    """The same for a kind "ending:filter:options" that gives a file for each sheet; by the titles of each workbook."""
    ending = kind.partition(":")[0]
    endings = [[f"-{title}.{ending}" for title in of_book] for of_book in titles]
    made = _converted(paths, target, kind, endings, recalculate, locale)
    return [dict(zip(of_book, files, strict=True)) for of_book, files in zip(titles, made, strict=True)]


def _converted(
    paths: Sequence[Path], target: Path, kind: str, endings: Sequence[Sequence[str]], recalculate: bool, locale: str
) -> list[list[Path]]:
    if not paths:
        return []
    with profile(recalculate, locale) as home:
        sources = home / "in"
        sources.mkdir()
        numbered = [sources / f"{number}.xlsx" for number in range(len(paths))]
        for path, copy in zip(paths, numbered, strict=True):
            shutil.copyfile(path, copy)
        said = run(home, "--convert-to", kind, "--outdir", str(target), *map(str, numbered))
    made = [
        [target / f"{copy.stem}{ending}" for ending in of_book] for copy, of_book in zip(numbered, endings, strict=True)
    ]
    for path, files in zip(paths, made, strict=True):
        if not all(file.exists() for file in files):
            raise EngineFailed(f"LibreOffice did not convert {path}: {said.strip()}")
    return made
