"""The pictures of a file against those of its edition: what they draw, how, where; and what lies over the cells."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from builder.engine.audit.charts import Traits
from builder.engine.audit.drawings import Picture, by_key, drawn
from builder.engine.audit.finding import Finding, finding
from builder.engine.audit.formats import tokens
from builder.engine.audit.sheets import area_of
from builder.engine.exchange.cellvalues import Cells

MOVED, STRETCHED = 20.0, 0.07  # points, and of its own size: programs measure columns in other units
# What a program may lose of a picture without another number, side or axis in its stead: (how its name ends, what
# is found in place of it).
_GENERAL = repr(tokens("General"))
ALONE = (" steps", " format of labels")  # what is told of an axis or labels that are shown for want of others
LOST = (
    *(
        (end, None)
        for end in ("labels", "title", "place", "format of labels", "the legend", "ground", "odd", "names each")
    ),
    *(
        (" shown", "yes"),
        (" steps", "nan"),
        (" marks", None),
        (" format of labels", _GENERAL),
        (" labels", "showVal"),
        (" ground", ""),
    ),
)


def compare_pictures(built: Sequence[Picture], found: Sequence[Picture], values: Cells) -> Iterator[Finding]:
    """Pictures may be lost when a program saves; those that are there show what they did, where they did.

    `values`: what the cells of the file store, by sheet title and address.
    """
    before, after = by_key(built), by_key(found)
    lost: dict[str, int] = {}
    for key, now in after.items():
        was = before.get(key)
        if now.odd or was is None:
            yield finding("picture", now.sheet, "", "", None, now.odd or "".join(key[1])[:80], "picture_odd")
            continue
        yield from _moved(was, now)
        yield from _other(was, now, lost)
    gone = [picture.sheet for key, picture in before.items() if key not in after]
    if gone:
        yield finding("pictures", gone[0], "", "", len(before), len(before) - len(gone), "pictures_gone")
    for sheet, number in lost.items():
        yield finding("pictures", sheet, "", "", None, number, "picture_lost")
    yield from _stored(found, values)


def _moved(was: Picture, now: Picture) -> Iterator[Finding]:
    room = [max(MOVED, STRETCHED * size) for size in was.box[2:] * 2]
    if any(abs(one - other) > most for one, other, most in zip(was.box, now.box, room, strict=True)):
        before, after = (" ".join(f"{side:.0f}" for side in box) for box in (was.box, now.box))
        yield finding("picture", now.sheet, "", "", before, after, "picture_moved")


def _other(was: Picture, now: Picture, lost: dict[str, int]) -> Iterator[Finding]:
    before, after = was.chart.traits, now.chart.traits
    for name in sorted(before.keys() | after.keys()):
        one, other = before.get(name), after.get(name)
        if one == other or _near(one, other) or (one is None and name.endswith(ALONE)):
            continue
        gone = any(name.endswith(end) and other == left for end, left in LOST) and one is not None
        if gone or _by_label(before, name, other):
            lost[now.sheet] = lost.get(now.sheet, 0) + 1
        else:
            yield finding("picture", now.sheet, "", name, one, other, "picture_other")


def _by_label(before: Traits, name: str, other: str | None) -> bool:
    """Whether a series bears one of its own labels as its name, as Gnumeric saves a series with labels of words."""
    labels = before.get(f"{name.removesuffix(' named')} labels", "")
    return name.endswith(" named") and f"{other};" in f"{labels};".replace(": ", ";")


def _near(one: str | None, other: str | None) -> bool:
    """Numbers that programs round: widths of lines, places in a picture."""
    try:
        pairs = zip((one or "").split(), (other or "").split(), strict=True)
        return all(math.isclose(float(a), float(b), rel_tol=0.02, abs_tol=0.11) for a, b in pairs)
    except ValueError:
        return False


def _stored(found: Sequence[Picture], values: Cells) -> Iterator[Finding]:
    """Numbers that a chart keeps of its cells: a program that does not recalculate draws these."""
    for cells, points in drawn(found):
        held = area_of(cells)
        for at, said in points.items():
            value = values.get(held[at]) if at < len(held) else None
            if isinstance(value, float) and not isinstance(value, bool) and not _same(value, said):
                yield finding("picture", *held[at], "", f"{value:.12g}", said, "picture_stored")
                break


def _same(value: float, said: str) -> bool:
    try:
        return math.isclose(value, float(said), rel_tol=1e-6, abs_tol=1e-9)
    except ValueError:
        return False
