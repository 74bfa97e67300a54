"""One plain name for each thing: no text that a person sees says an old word; numbers carry their sign and their unit.

What is held stands in wording.toml: common practice of the trade, no source.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from builder.arguments import COMMANDS, parser
from builder.engine.model import label_of
from builder.engine.spec import WorkbookSpec
from builder.engine.spec.load import SPECS, load_workbook_spec
from builder.engine.spec.model import SIGNED, Block, Row
from builder.engine.spec.reading import read_toml
from builder.engine.spec.words import languages, load_words
from builder.planner.books import PLAN, REGISTER

ROOT = SPECS.parent
HELD = tomllib.loads((Path(__file__).parent / "wording.toml").read_text("utf-8"))
FLAG = re.compile(r"\(1: |\(1 |\(1, 0\)")
REFRACTION = re.compile(r"refraction|\bsphere\b|target|\bJ0\b|\bJ45\b|\b[XY]\b", re.IGNORECASE)
DRAWN = ("drawing", "dial", "followsteps", "workings")  # sheets of points on a circle of radius 1, and of waves


def _texts(language: str) -> Iterator[tuple[str, str]]:
    """Every text of both workbooks and of the messages, by table and key."""
    found = {}
    for workbook in (PLAN, REGISTER):
        for table, texts in load_words(workbook, language, SPECS).tables.items():
            found |= {f"{table}.{key}": text for key, text in texts.items()}
    if language == "en":
        for table, texts in read_toml(SPECS / "messages.en.toml").items():
            found |= {f"{table}.{key}": text for key, text in texts.items()}
        action = next(a for a in parser()._actions if a.dest == "command")
        found |= {f"command.{name}": action.choices[name].format_help() for name in COMMANDS}  # type: ignore[index]
        found["page.README"] = (ROOT / "README.md").read_text("utf-8")
    yield from found.items()


def _said(texts: Iterator[tuple[str, str]], forbidden: Mapping[str, str]) -> list[str]:
    """Each text with a forbidden word, and what to say instead."""
    spared = tuple(HELD["spared"])
    return [
        f"{name}: {found[0]!r}: say {instead}"
        for name, text in texts
        if not name.startswith(spared)
        for pattern, instead in forbidden.items()
        if (found := re.search(pattern, text, re.IGNORECASE))
    ]


@pytest.mark.parametrize("language", languages(SPECS))
def test_no_text_says_an_old_word(language: str) -> None:
    texts = [(name, text) for name, text in _texts(language) if not name.startswith("choice.")]
    assert len(texts) > 3000
    assert _said(iter(texts), HELD["forbidden"][language]) == []


def test_an_old_word_is_found_and_a_lay_one_spared() -> None:
    texts = [
        ("label.x", "Goal"),
        ("label.y", "Lens marks at"),
        ("word.say_z", "ends far-sighted"),
        ("label.w", "Target"),
    ]
    found = _said(iter(texts), HELD["forbidden"]["en"])
    assert [told.partition(":")[0] for told in found] == ["label.x", "label.y"]


def _numbers(spec: WorkbookSpec) -> Iterator[tuple[str, Block, Row]]:
    """Every row of numbers that is not only an echo of another."""
    for sheet in spec.sheets:
        for block in sheet.blocks:
            yield from ((sheet.key, block, row) for row in block.rows if row.kind == "number" and not row.echo)


def _spared(key: str, table: str) -> bool:
    return any(re.search(pattern, key.removeprefix("typed_")) for pattern in HELD[table])


@pytest.mark.parametrize("name", [PLAN, REGISTER])
def test_each_refraction_carries_a_sign(name: str) -> None:
    spec = load_workbook_spec(name, "en", SPECS)
    plain = {
        row.key
        for _, _, row in _numbers(spec)
        if row.unit == "D"
        and SIGNED not in (row.style or "").split()
        and REFRACTION.search(label_of(spec, row))
        and not _spared(row.key, "unsigned")
    }
    assert sorted(plain) == []


@pytest.mark.parametrize("name", [PLAN, REGISTER])
def test_each_number_has_a_unit_or_needs_none(name: str) -> None:
    """Counts, codes and what is 1 or 0 need none; a ratio, a constant of a lens and the like are listed."""
    spec = load_workbook_spec(name, "en", SPECS)
    bare = {
        row.key
        for sheet, block, row in _numbers(spec)
        if not row.unit
        and row.decimals > 0
        and sheet not in DRAWN
        and block.show_unit
        and not FLAG.search(label_of(spec, row))
        and not _spared(row.key, "without_unit")
    }
    assert sorted(bare) == []
