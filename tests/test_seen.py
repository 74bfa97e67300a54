"""Whatever would show a person another number, text, side or axis is found or refused, alone and in pairs."""

from __future__ import annotations

import random
import time

import pytest

from builder.engine.audit.verify import CLEAN
from builder.engine.model import Model
from tests.support.deceits import DECEITS
from tests.support.deceits_seen import SEEN
from tests.support.differing import DIFFERING, ZIPPED
from tests.support.filled import fill
from tests.support.hostile import SPOILT, Parts, parts_of
from tests.support.in_memory import report_on
from tests.support.memory import begin, peak
from tests.support.plants import PLANTS, Copy
from tests.support.workbooks import typed_case

LONGEST, MOST_MEMORY = 10.0, 1_000_000  # seconds of the processor; kB, for all of these files together
PAIRS, SEED = 20, 19


@pytest.fixture(scope="module")
def held_before() -> int | None:
    """The memory that the process holds before any file of this catalogue is judged; the tests before had some too."""
    return begin()


@pytest.fixture(scope="module")
def good(model: Model, held_before: int | None, tmp_path_factory: pytest.TempPathFactory) -> Parts:
    path = tmp_path_factory.mktemp("good") / "good.xlsx"
    fill(model, typed_case("ready"), path)
    parts = parts_of(path)
    assert report_on(parts).findings == ()
    return parts


@pytest.mark.parametrize("name", SEEN)
def test_what_a_person_would_see_otherwise_is_found(name: str, model: Model, good: Parts) -> None:
    """Found or refused, and within the time that a file may take."""
    copy, started = Copy(model, dict(good)), time.process_time()
    SEEN[name][1](copy)
    assert copy.parts != good
    report = report_on(copy.parts)
    assert report.verdict != CLEAN, f"nobody tells of {SEEN[name][0]}"
    assert time.process_time() - started < LONGEST


def test_deceits_do_not_hide_each_other(model: Model, good: Parts) -> None:
    """Drawn pairs of them: found as well."""
    chance, names, met = random.Random(SEED), sorted(SEEN), 0
    while met < PAIRS:
        copy = Copy(model, dict(good))
        pair = chance.sample(names, 2)
        try:
            for name in pair:
                SEEN[name][1](copy)
        except AssertionError:  # the first has taken away what the second changes
            continue
        met += 1
        assert report_on(copy.parts).verdict != CLEAN, pair


def test_the_catalogue_is_large() -> None:
    """At least 120 kinds with those of the other files of tests; what a person would see is said for each here."""
    assert len(SEEN) + len(DECEITS) + len(DIFFERING) + len(ZIPPED) + len(PLANTS) + len(SPOILT) >= 120
    assert all(seen for seen, _ in SEEN.values())


def test_the_catalogue_took_little_memory(good: Parts, held_before: int | None) -> None:
    """Of what the tests above held at most, without what the process held before them; run alone, of one file."""
    assert report_on(good).verdict == CLEAN
    if held_before is None:
        pytest.skip("this system does not tell the most memory that was held since a moment")
    assert peak() - held_before < MOST_MEMORY
