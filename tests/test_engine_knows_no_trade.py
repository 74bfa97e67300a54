"""No word of the trade stands in the source of the engine; what it must know of a trade, the specs declare."""

import re
from pathlib import Path

import pytest

ENGINE = Path(__file__).resolve().parents[1] / "builder" / "engine"
TRADE = re.compile(
    r"eyes?|fellow|lens(?:es)?|corneas?|corneal|keratometry|toric|astigmatism|cylinder|refractions?|dioptres?|limbus|biometry|iol"
    r"|surgeons?|surgery|theatre|clinics?|clinical|patients?|diagnos[ei]s|medic\w*|incisions?|hyperopia|myopia|laser"
    r"|register|plans?"
)
WORD = re.compile(r"[A-Za-z]+")


def words_of_the_trade(text: str) -> set[str]:
    """Also within names such as eye_used and EYES, but not within longer words, such as keyed."""
    parts = (part for word in WORD.findall(text) for part in re.findall(r"[A-Z]?[a-z]+|[A-Z]+", word))
    return {part.lower() for part in parts if TRADE.fullmatch(part.lower())}


@pytest.mark.parametrize("path", sorted(ENGINE.rglob("*.py")), ids=lambda path: path.relative_to(ENGINE).as_posix())
def test_the_engine_says_no_word_of_the_trade(path: Path) -> None:
    assert words_of_the_trade(path.read_text("utf-8")) == set()


@pytest.mark.parametrize(
    ("text", "found"),
    [("EYES = 2", {"eyes"}), ("eye_used", {"eye"}), ("isToric", {"toric"}), ("keyed bytes of a lenient map", set())],
)
def test_a_word_of_the_trade_is_found(text: str, found: set[str]) -> None:
    assert words_of_the_trade(text) == found
