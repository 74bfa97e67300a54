"""Mistakes drawn at random: each ends as a SpecError or builds, never as another exception.

`DRAWN_MISTAKES=3000 python -m pytest -n 0 -s tests/test_spec_mistakes_drawn.py` draws as many, and says how they ended.
"""

from __future__ import annotations

import os
import random
import re
import traceback
from collections import Counter
from typing import Any

from builder.engine.model import build_model
from builder.engine.spec import SpecError
from builder.engine.spec.reading import SPECS
from builder.planner.books import PLAN, REGISTER
from tests.support.mistakes import Change, Where, gone, mistaken, places, put, renamed, said

DRAWN, SEED = int(os.environ.get("DRAWN_MISTAKES", "30")), 7
SHARED = ("styles.toml", "words.en.toml", "clinical/constants.toml", "clinical/sources.toml")
FILES = [
    *SHARED,
    *(str(path.relative_to(SPECS)) for book in (PLAN, REGISTER) for path in sorted((SPECS / book).glob("*.toml"))),
]
ANYTHING: tuple[Any, ...] = (
    *("", "#", "{eye}", "no such", "mean_k", "mean_k+", "word.x", "right", "eyes", "right.mean_k.x", "é"),
    *(0, -1, 1.5, 10**9, float("nan"), True, [], {}, [1], [[]], [{}], ["zzzzzz_qq"], {"zzzzzz_qq": 1}),
)
BEFORE = ("before.", "upto.", "all.", "fixed.", "rows.", "block.", "labels.", "fellow.", "where.", "word.", "lenses.")


def names() -> list[str]:
    """The keys of all that the specs of the workbooks speak of."""
    found = {v for file in FILES[len(SHARED) :] for where, v in places(said(file)) if where[-1] == "key"}
    return sorted(str(name) for name in found)


def drawn(draw: random.Random, value: Any, key: str | int) -> tuple[str, Change]:
    """A mistake at one place, with what it is: another value, another name, another key, nothing."""
    ways = ["value", "value", "gone"] + ["key"] * isinstance(key, str) + ["name"] * 3 * isinstance(value, str)
    way = draw.choice(ways)
    if way == "gone":
        return "nothing", gone
    if way == "key":
        new = draw.choice((f"{key}x", str(key)[:-1], "", str(key).upper()))
        return f"the key {new!r}", renamed(new)
    now: Any = draw.choice((*ANYTHING, [value], str(value), -value if isinstance(value, float | int) else f"{value},"))
    words = list(re.finditer(r"[a-z][a-z0-9_.]{3,}", value)) if way == "name" else []
    if words:
        word = draw.choice(words)
        new = draw.choice((word[0][:-1], draw.choice(names()), draw.choice(BEFORE) + word[0]))
        now = value[: word.start()] + new + value[word.end() :]
    return repr(now), put(now)


def ends(file: str, where: Where, change: Change) -> str:
    """How the build ends with this mistake: told, built, or where it crashed."""
    book = REGISTER if file.startswith(REGISTER) else PLAN
    try:
        with mistaken(file, where, change):
            build_model(book, "en", SPECS, 12 if book == REGISTER else None)
    except SpecError as error:
        return "told" if error.file and error.key else "told without file or key"
    except Exception as error:  # whatever it is, it is what this test looks for
        last = traceback.extract_tb(error.__traceback__)[-1]
        return f"{type(error).__name__} at {last.filename}:{last.lineno}"
    return "built"


def test_a_drawn_mistake_is_told_or_builds() -> None:
    """Whatever is put, renamed or taken out at any place of any spec file."""
    draw, found, wrong = random.Random(SEED), Counter[str](), []
    while found.total() < DRAWN:
        file = draw.choice(FILES)
        held = list(places(said(file)))
        if held:
            where, value = draw.choice(held)
            mistake, change = drawn(draw, value, where[-1])
            end = ends(file, where, change)
            found[end] += 1
            if end not in ("told", "built"):
                wrong.append(f"{file} {'.'.join(map(str, where))}: {mistake} for {value!r:.60}: {end}")
    print(dict(found))
    assert not wrong, "\n".join(wrong)
    assert found["told"] > DRAWN / 3
