"""The theatre pages as printed: one page an eye, the right words on it, the dial round and turned to the seat."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping
from typing import Any

import pymupdf
import pytest

from builder.engine.exchange.office import convert
from builder.engine.model import Model
from builder.planner.exchange.casefile import typed_cells
from builder.planner.exchange.pictures import only_sheets
from tests.support.filled import fill_many
from tests.support.workbooks import by_key, case_files, expected

EYES = ("right", "left")
TURN = {("head", "right"): 180, ("head", "left"): 180, ("temporal", "right"): 90, ("temporal", "left"): -90}
DEMOS = [name for name in case_files() if name[0].isdigit()]
JOBS = [
    *((name, seat, paper) for name in DEMOS for seat, paper in (("head", "A4"), ("temporal", "letter"))),
    ("incision-across-zero", "temporal", "A4"),
    ("blank", "head", "letter"),
]
Pages = dict[str, list[Any]]


@pytest.fixture(scope="module")
def printed(
    model: Model, libreoffice: str, tmp_path_factory: pytest.TempPathFactory
) -> dict[tuple[str, str, str], tuple[Any, Pages]]:
    """Of each job: the values of the cells, and the pages of each eye."""
    del libreoffice
    folder = tmp_path_factory.mktemp("pages")
    typed = [_typed(model, name, seat) for name, seat, _ in JOBS]
    files = [folder / f"{n}.xlsx" for n in range(len(JOBS))]
    fill_many(model, list(zip(typed, files, strict=True)))
    for (_, _, paper), file in zip(JOBS, files, strict=True):
        only_sheets(file, "Theatre", letter=paper == "letter")
    wanted = expected(model, typed)
    result = {}
    for job, cells, pdf in zip(JOBS, wanted, convert(files, folder, "pdf", recalculate=False), strict=True):
        document = pymupdf.open(pdf)
        pages: Pages = {eye: [] for eye in EYES}
        for page in document:
            for eye in EYES:
                if f"Theatre {eye}" in page.get_text() and "LENS AXIS" in page.get_text():
                    pages[eye].append(page)
        result[job] = (cells, pages)
    return result


def _typed(model: Model, name: str, seat: str) -> Mapping[Any, Any]:
    if name == "blank":
        return {}
    case = tomllib.loads(case_files()[name].read_text(encoding="utf-8"))
    case.pop("about")
    case["plan"]["surgeon_seat"] = seat
    return typed_cells(model, case)


def _limbus(page: Any) -> Any:
    """The circle of the dial: the path of 36 strokes, one for each ten degrees."""
    return next(path["rect"] for path in page.get_drawings() if len(path["items"]) == 36)


def _heavy(page: Any, strokes: int) -> list[tuple[float, float]]:
    """The middle of heavy lines of so many strokes (1: the lens marks, of which the second end; 8: incisions), from the
    centre of the dial, up counted as plus."""
    ring = _limbus(page)
    across, up = (ring.x0 + ring.x1) / 2, (ring.y0 + ring.y1) / 2
    found = []
    for path in page.get_drawings():
        if path["type"] == "s" and path["width"] > 3 and len(path["items"]) == strokes:
            point = path["items"][strokes // 2][1] if strokes > 1 else path["items"][0][2]
            found.append((point.x - across, up - point.y))
    return found


@pytest.mark.parametrize("job", JOBS, ids=lambda job: "-".join(job))
@pytest.mark.parametrize("eye", EYES)
def test_page(model: Model, printed: dict[Any, Any], job: tuple[str, str, str], eye: str) -> None:
    """One page; its own eye and not the other; lens and axis if released, else NOT READY or not used and no lens."""
    cells, pages = printed[job]
    assert len(pages[eye]) == 1
    text = pages[eye][0].get_text()
    other = EYES[1 - EYES.index(eye)]
    assert f"{eye.upper()} EYE" in text
    assert f"{other.upper()} EYE" not in text
    status = by_key(model, cells, "status", eye)
    assert {"ready": "READY", "check": "CHECK", "not ready": "NOT READY", "not used": "NOT USED"}[status] in text
    lens, axis = by_key(model, cells, "lens_choice", eye), by_key(model, cells, "released_axis", eye)
    if status in ("ready", "check"):
        assert lens in text
        assert f"{by_key(model, cells, 'lens_power', eye):.2f}" in text
        assert axis is None or f"{round(axis)}" in text.split()
    else:
        assert not re.search("Example (Heron|Wren|Plover|Curlew)", text)
        assert not _heavy(pages[eye][0], 1)
    assert ("NOT READY" in text) is (status == "not ready")


@pytest.mark.parametrize("job", JOBS, ids=lambda job: "-".join(job))
@pytest.mark.parametrize("eye", EYES)
def test_dial(model: Model, printed: dict[Any, Any], job: tuple[str, str, str], eye: str) -> None:
    """Round within 1 %; marks and incision where the axis and the seat put them, within 1.5 degrees on paper."""
    cells, pages = printed[job]
    page = pages[eye][0]
    ring = _limbus(page)
    assert ring.width / ring.height == pytest.approx(1, abs=0.01)
    assert ring.width > page.rect.width / 5
    turn = TURN[job[1], eye]
    axis = by_key(model, cells, "released_axis", eye)
    bars = _heavy(page, 1)
    assert len(bars) == (0 if axis is None else 1)
    if axis is not None:
        seen = math.degrees(math.atan2(bars[0][1], bars[0][0])) - turn - axis
        assert abs((seen + 90) % 180 - 90) < 1.5
    incision = by_key(model, cells, "incision_meridian", eye)
    if incision is not None:
        off = [
            abs((math.degrees(math.atan2(up, across)) - turn - incision + 180) % 360 - 180)
            for across, up in _heavy(page, 8)
        ]
        assert min(off) < 1.5


def test_nearest_to_the_surgeon_is_at_the_bottom(printed: dict[Any, Any]) -> None:
    """Temporal is 180 in a right eye, 0 in a left eye (common practice, no source): lowest when sitting there."""
    name = "1-cone-both-eyes"
    for seat, lowest in (("head", {"right": "90", "left": "90"}), ("temporal", {"right": "180", "left": "0"})):
        paper = "A4" if seat == "head" else "letter"
        for eye in EYES:
            page = printed[name, seat, paper][1][eye][0]
            ring = _limbus(page)
            numbers = [
                word
                for word in page.get_text("words")
                if word[4].isdigit()
                and int(word[4]) % 30 == 0
                and ring.x0 - 40 < word[0] < ring.x1 + 40
                and ring.y0 - 40 < word[1] < ring.y1 + 40
            ]
            assert len(numbers) == 12
            assert max(numbers, key=lambda word: word[3])[4] == lowest[eye]
