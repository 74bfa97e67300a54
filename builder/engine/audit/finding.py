"""One thing that a filled file has and its edition has not, in the words of specs/messages.en.toml."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from builder.engine.spec.reading import SPECS
from builder.engine.spec.words import Words

NOTES = frozenset(
    {
        "circles",
        "moved",
        "not_computed",
        "not_seen",
        "older",
        "panes_lost",
        "password",
        "pictures",
        "structure_unlocked",
        "titles_lost",
        "view",
    }
)  # kinds that change neither a result nor what a reader is told


@dataclass(frozen=True)
class Finding:
    """A difference: its kind, where it stands, the row's key, what was expected and what was found, and a sentence."""

    kind: str
    sheet: str
    cell: str
    key: str
    expected: Any
    found: Any
    sentence: str

    @property
    def of_meaning(self) -> bool:
        """Whether it changes a result, an input's rule or what a reader sees; else it is only said, as a note."""
        return self.kind not in NOTES


@cache
def sentences() -> Words:
    """What the commands say."""
    return Words(SPECS / "messages.en.toml")


def finding(
    kind: str, sheet: str = "", cell: str = "", key: str = "", expected: Any = None, found: Any = None, what: str = ""
) -> Finding:
    """A finding with the sentence of `finding.<what>`, or of its kind where a kind has one wording only."""
    text = sentences().get("finding", what or kind)
    sentence = text.format(
        sheet=sheet, cell=cell, key=f" ({key})" if key else "", expected=_said(expected), found=_said(found)
    )
    return Finding(kind, sheet, cell, key, expected, found, sentence)


def _said(value: Any) -> str:
    """A value in a sentence: long ones cut, nothing that could steer a terminal."""
    if value is None:
        return sentences().get("finding", "nothing")
    text = f"{value:.12g}" if isinstance(value, float) else str(value)
    text = "".join(letter if letter.isprintable() else " " for letter in text)
    return text if len(text) <= LONGEST_SAID else text[: LONGEST_SAID - 1] + "…"


LONGEST_SAID = 160
