"""The differences of two editions by meaning: a formula is compared by the names of what it reads, not by its cells."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from builder.engine.addresses import CELL, PLAIN, TITLE
from builder.engine.compare.old import TEXT
from builder.engine.editions.store import Cell, Edition

CITED = re.compile(
    r"""(?P<text>"(?:[^"]|"")*")|"""
    rf"(?P<sheet>{TITLE})?(?<![A-Za-z0-9_])(?P<first>{CELL})(?::(?P<last>{CELL}))?(?![A-Za-z0-9_(])"
)
PLACE = re.compile(f"(?P<sheet>.+) {PLAIN}(?: to {PLAIN})?")
JOIN = " / "
KINDS = ("constant", "formula", "input", "fixed", "message")  # fixed: cells of tables and examples


@dataclass(frozen=True)
class Change:
    """One difference: its kind (one of KINDS), the key, the cells' owners, what was and what is ("" where nothing)."""

    kind: str
    key: str
    cells: tuple[str, ...]
    was: str
    now: str


@dataclass(frozen=True)
class Meaning:
    """What a named cell says, free of its place: role, content by names, and the texts in it."""

    kind: str
    content: str
    texts: tuple[str, ...] = ()

    @property
    def said(self) -> str:
        """What it says in one line, for a cell that only one edition has."""
        return self.content or JOIN.join(self.texts) or self.kind


def _several(texts: list[str]) -> str:
    """The first of the different texts, and how many more there are."""
    different = list(dict.fromkeys(texts))
    return different[0] + (f" and {len(different) - 1} others" if len(different) > 1 else "")


def changes(old: Edition, new: Edition) -> list[Change]:
    """Every difference, in the order of KINDS and of the new edition; cells with the same difference are told once."""
    before, after = meanings(old), meanings(new)
    found: dict[tuple[str, str, str, str], list[str]] = {}
    alone: dict[tuple[str, str, bool], list[tuple[str, str]]] = {}
    for name in dict.fromkeys((*after, *before)):
        was, now = before.get(name), after.get(name)
        key = name.rpartition(".")[2]
        if was is None or now is None:
            known = was or now
            assert known is not None
            alone.setdefault((known.kind, key, was is None), []).append((name, known.said))
            continue
        if (was.kind, was.content) != (now.kind, now.content) and not (
            was.kind == now.kind == "input" and not was.content
        ):
            found.setdefault((now.kind, key, was.content, now.content), []).append(name)
        if was.texts != now.texts:
            gone = [text for text in was.texts if text not in now.texts]
            come = [text for text in now.texts if text not in was.texts]
            if not (gone or come):  # the same texts, exchanged or one of them more often
                gone, come = list(was.texts), list(now.texts)
            found.setdefault(("message", key, JOIN.join(gone), JOIN.join(come)), []).append(name)
    messages = _messages(old, new)
    told = {text for change in messages for text in (change.was, change.now)}
    listed = [
        Change(kind, key, tuple(cells), was, now)
        for (kind, key, was, now), cells in found.items()
        if not (kind == "message" and {*was.split(JOIN), *now.split(JOIN)} <= told | {""})
    ]
    for (kind, key, added), cells in alone.items():
        said = _several([text for _, text in cells])
        listed.append(Change(kind, key, tuple(name for name, _ in cells), "" if added else said, said if added else ""))
    listed += messages
    return sorted(listed, key=lambda change: (KINDS.index(change.kind), not change.was, not change.now))


def meanings(edition: Edition) -> dict[str, Meaning]:
    """What each named cell of an edition says."""
    named = {place: cell.name for place, cell in edition.cells.items() if cell.role != TEXT}
    found = {}
    sheets = {title for title, _ in named}
    for (sheet, _), cell in edition.cells.items():
        if cell.role != TEXT:
            found[cell.name] = _meaning(edition, sheet, cell, named, sheets)
    return found


def _meaning(
    edition: Edition, sheet: str, cell: Cell, named: Mapping[tuple[str, str], str], sheets: Collection[str]
) -> Meaning:
    if cell.role == "typed":
        return Meaning("input", cell.holds)
    if cell.role == "constant":
        value = edition.value(cell)
        if isinstance(value, str):
            return Meaning("message", "", () if edition.shown_by(cell) else (value,))
        unit = edition.units.get(cell.name, "")
        limit = cell.name.rpartition(".")[2].startswith(("lowest_", "highest_"))
        kind = "input" if limit else "constant" if cell.name in edition.units else "fixed"
        return Meaning(kind, f"{float(value) + 0.0:.12g} {unit}".strip())
    texts: list[str] = []

    def by_name(cited: re.Match[str]) -> str:
        if cited["text"]:
            text = cited["text"][1:-1].replace('""', '"')
            place = PLACE.fullmatch(text)
            texts.append("" if place and place["sheet"] in sheets else text)  # where to type: it moves with the cells
            return '""' if not text else '"…"'
        at = (cited["sheet"] or sheet).removesuffix("!").strip("'")
        ends = [cited[end].replace("$", "") for end in ("first", "last") if cited[end]]
        return ":".join(_seen_from(cell.name, named.get((at, end), "label"), edition.once) for end in ends)

    return Meaning("formula", CITED.sub(by_name, cell.holds.removeprefix("=")), tuple(text for text in texts if text))


def _seen_from(home: str, name: str, once: str) -> str:
    """A name as a formula of the specs writes it: without the instance, the side or the workbook that is its own."""
    owner = home.rpartition(".")[0]
    for prefix in dict.fromkeys((owner, owner.partition(".")[0], once)):
        if name.rpartition(".")[0] == prefix:
            return name.rpartition(".")[2]
    return name


def _messages(old: Edition, new: Edition) -> list[Change]:
    """Texts that no formula holds: labels, titles, notes, help; only where both editions' texts are known."""
    if not old.words or not new.words:
        return []
    return [
        Change("message", key, (), old.words.get(key, ""), new.words.get(key, ""))
        for key in dict.fromkeys((*new.words, *old.words))
        if old.words.get(key) != new.words.get(key)
    ]
