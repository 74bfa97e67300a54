"""Released editions of a workbook: their dumps under specs/editions/, and what each expects in every cell.

`<edition>.txt` is a released edition, `current-<workbook>.txt` what the specs build now. The edition holds the hash of
what the file says, so a file that was changed by hand is refused.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import takewhile
from pathlib import Path
from typing import Any

from builder.engine.addresses import address, spot
from builder.engine.editions import texts
from builder.engine.editions.compact import BAR, COPIES, cut, moved
from builder.engine.model import Model
from builder.engine.spec import SpecError
from builder.engine.spec.errors import nearest
from builder.engine.spec.lists import ONCE, read_about
from builder.engine.spec.reading import SPECS
from builder.engine.spec.words import ENGLISH
from builder.engine.told import Told

EDITIONS = SPECS / "editions"
CURRENT = "current-"


class UnknownEdition(Told):
    """An edition whose dump is not here; the message names it and those that are known."""


@dataclass(frozen=True)
class Cell:
    """What an edition expects in a cell: its name over the workbook, its role and what it holds.

    `role` is "formula" (holds it with its equals sign), "constant" (holds its value as Python writes it, texts cited as
    'word.key') or "typed" (holds kind, limits and choices). A constant of the specs has the style "constant".
    """

    name: str
    role: str
    holds: str
    style: str
    locked: bool


@dataclass(frozen=True)
class Edition:
    """A whole edition.

    Cells by (sheet title, address), units of the constants, texts by `table.key`, looks by what they are of
    (`style.title`, as JSON). `shown_in`: the rows that show the own edition, and the one of the workbook that is
    taken, `takes_from`. `once`: the list of what is there once, which names of cells begin with.
    """

    edition: str
    workbook: str
    cells: Mapping[tuple[str, str], Cell]
    words: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    looks: Mapping[str, str] = field(default_factory=dict)
    shown_in: tuple[str, str] = ("", "")
    takes_from: str = ""
    once: str = ONCE

    def shown_by(self, cell: Cell) -> str:
        """The edition that a cell shows, which stands in no dump: its own, or the one whose lines it takes; else ""."""
        own, taken = self.shown_in
        row = cell.name.rpartition(".")[2]
        return "" if not row else self.edition if row == own else self.looks[self.takes_from] if row == taken else ""

    def value(self, cell: Cell) -> Any:
        """What a constant or text cell shows: a cited text is the text itself."""
        if edition := self.shown_by(cell):
            return edition
        value = ast.literal_eval(cell.holds)
        if isinstance(value, str) and value.startswith("="):
            return value.removeprefix("=")  # as it stands: a key is the same in every language
        return self.words.get(value, value) if isinstance(value, str) else value

    @property
    def language(self) -> str:
        """Of its texts."""
        return self.workbook.partition("-")[2] or ENGLISH

    @property
    def version(self) -> str:
        """The edition without its hash."""
        return version_of(self.edition)


def write_current(model: Model, folder: Path = EDITIONS) -> Path:
    """Writes what the specs build now, and gives its path."""
    path = folder / f"{CURRENT}{model.spec.title}.txt"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(texts.file_text(model), encoding="utf-8")
    return path


def release(model: Model, folder: Path = EDITIONS) -> Path:
    """Keeps the current edition under its own name. Raises SpecError when its version is released with other cells."""
    refuse_changed_release(model, folder)
    path = folder / f"{model.edition}.txt"
    path.write_text(texts.file_text(model), encoding="utf-8")
    return path


def refuse_changed_release(model: Model, folder: Path = EDITIONS) -> None:
    """A version that was released is never changed: raises SpecError when the specs say something else under it."""
    for path in released(folder).values():
        edition, workbook = head_of(path)
        if workbook == model.spec.title and version_of(edition) == model.spec.version and edition != model.edition:
            raise SpecError(
                "changes.toml",
                "version",
                f"{model.spec.version} is released as {edition} and the specs now build {model.edition}",
                "Raise the version and add an entry that says what changes",
            )


def head_of(path: Path) -> tuple[str, str]:
    """Edition and workbook that a dump says it holds; whether it does, its hash shows once it is read whole."""
    with path.open(encoding="utf-8") as handle:
        return texts.head_of(handle.readline(), path.name)[:2]


def constants_in(path: Path) -> dict[str, str]:
    """The constants in a dump, each value as Python writes it: its first lines, which need no expanding."""
    with path.open(encoding="utf-8") as handle:
        handle.readline()
        lines = (line.split(BAR) for line in takewhile(lambda line: not line.startswith(f"list{BAR}"), handle))
        return {name: holds.partition(" ")[0] for _, name, _, holds, _ in lines}


def version_of(edition: str) -> str:
    """An edition without its hash."""
    return edition.rpartition("-")[0]


def faults(model: Model, folder: Path = EDITIONS) -> list[str]:
    """What is wrong with the dumps: the current one is not what the specs build, or a released one was changed."""
    current = folder / f"{CURRENT}{model.spec.title}.txt"
    old = not current.exists() or current.read_text(encoding="utf-8") != texts.file_text(model)
    stale = [f"{current.name} is not what the specs build now; run: python -m builder build"] if old else []
    return stale + broken(folder)


def broken(folder: Path = EDITIONS) -> list[str]:
    """The released dumps that were changed since, in words."""
    found = []
    for edition, path in released(folder).items():
        try:
            if _expanded(path.read_text(encoding="utf-8"), path)[0] != edition:
                found.append(f"{path.name} holds another edition than its name says; take back the change")
        except ValueError as error:
            found.append(f"{error}; take back the change")
    return found


def released(folder: Path = EDITIONS) -> dict[str, Path]:
    """The files of released editions, by edition."""
    return {path.stem: path for path in sorted(folder.glob("*.txt")) if not path.stem.startswith(CURRENT)}


def known(folder: Path = EDITIONS) -> dict[str, Path]:
    """The files of all known editions: those released, and the current ones."""
    files = released(folder)
    for path in sorted(folder.glob(f"{CURRENT}*.txt")):
        with path.open(encoding="utf-8") as handle:
            files.setdefault(handle.readline().split()[1], path)
    return files


def load_edition(edition: str, folder: Path = EDITIONS) -> Edition:
    """What an edition expects. Raises UnknownEdition, or ValueError when its file was changed."""
    files = known(folder)
    if edition not in files:
        listed = ", ".join(files) or "none"
        raise UnknownEdition(f"edition '{edition}' is not known; known are {listed}; {nearest(edition, files)}")
    return edition_from(files[edition])


def edition_of_model(model: Model) -> Edition:
    """What the current edition expects, without a file."""
    return _read(texts.edition_text(model), model.spec.home / EDITIONS.name / "the current edition")


def edition_from(path: Path) -> Edition:
    """The edition in a file. Raises ValueError when it is no edition, or not the one whose name it bears."""
    return _read(path.read_text(encoding="utf-8"), path)


def _read(text: str, path: Path) -> Edition:
    """Which rows show an edition, the specs say beside which it stands, or those of the house."""
    edition = _edition(*_expanded(text, path))
    about, name = "workbook.toml", edition.workbook.partition("-")[0]
    beside = next((f for f in (path.parents[1] / name, SPECS / name) if (f / about).exists()), path.parent)
    told = read_about(beside)
    shown = told.get("edition", ""), told.get("edition_taken", "")
    return replace(edition, shown_in=shown, takes_from=told.get("takes_from", ""), once=told.get("once", ONCE))


def _expanded(text: str, path: Path) -> tuple[str, str, list[str]]:
    def text_of(edition: str) -> str:
        files = known(EDITIONS) | known(path.parent)
        if edition not in files:
            raise ValueError(f"the edition {edition}, beside which it is told, is not here")
        return files[edition].read_text(encoding="utf-8")

    return texts.expanded(text, path.name, text_of)


def _edition(edition: str, workbook: str, lines: list[str]) -> Edition:
    cells: dict[tuple[str, str], Cell] = {}
    words: dict[str, str] = {}
    units: dict[str, str] = {}
    looks: dict[str, str] = {}
    for line in lines:
        if line.startswith(f"words{BAR}"):
            _, key, text = line.split(BAR, 2)
            words[key] = text
            continue
        if line.startswith(f"look{BAR}"):
            _, key, says = line.split(BAR, 2)
            looks[key] = says
            continue
        place, name, role, rest = line.split(BAR, 3)
        sheet, _, address = place.rpartition("!")
        *holds, style, lock = rest.rsplit(BAR, 2)
        if not holds:  # a constant: value and unit, no style
            value, _, units[name] = style.partition(" ")
            holds, style = [value], "constant"
        for at, held in _copies(address, role, holds[0]):
            cells[sheet, at] = Cell(name, role, held, style, lock == "locked")
    return Edition(edition, workbook, cells, words, units, looks)


def _copies(area: str, role: str, holds: str) -> Iterator[tuple[str, str]]:
    """The cells that a line stands for, each with what it holds: those of a long list are copies of the first."""
    first, _, last = area.partition(COPIES)
    if not last:
        yield area, holds
        return
    column, number = spot(first)
    pieces = cut(holds) if role == "formula" else [holds]
    for step in range(spot(last)[1] - number + 1):
        yield address(column, number + step), moved(pieces, (0, step))
