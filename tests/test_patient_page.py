"""The page for the patient: nothing before the plan is ready, plain sentences that follow from optics after it."""

import pytest

from builder.engine.model import Model
from builder.planner.reference.eyes import EYES
from tests.support.workbooks import by_key, case_files, expected, typed_case

TOLD = (
    *(
        "told_shape",
        "told_curves",
        "told_kind",
        "told_why",
        "told_sight",
        "told_reach",
        "told_sight_end",
        "told_within",
    ),
    *("told_hyperopic", "told_glasses", "told_exchange", "told_laser", "told_date", "told_code"),
)


def _told(model: Model, cells: dict, key: str, eye: str) -> str:
    place = model.layout.cells(f"page_{eye}", key)[eye, eye].place
    return str(cells[place] or "")


@pytest.fixture(scope="module")
def cases(model: Model) -> dict[str, dict]:
    names = sorted(case_files())
    return dict(zip(names, expected(model, [typed_case(name) for name in names]), strict=True))


def test_nothing_is_told_before_the_plan_is_ready(model: Model, cases: dict[str, dict]) -> None:
    """In any other state the page says so and nothing else; in this one every sentence is there."""
    words = model.spec.words
    ready, waiting = 0, 0
    for name, cells in cases.items():
        for eye in EYES:
            texts = [_told(model, cells, key, eye) for key in TOLD]
            if by_key(model, cells, "status", eye) == words.get("word", "status_ready"):
                ready += 1
                assert all(texts), (name, eye, [key for key, text in zip(TOLD, texts, strict=True) if not text])
                assert _told(model, cells, "told_waits", eye) == words.get("word", "told_given")
            else:
                waiting += 1
                assert not any(texts) and not _told(model, cells, "told_file", eye), (name, eye)
                assert _told(model, cells, "told_waits", eye) == words.get("word", "told_not_yet")
    assert ready >= 10 and waiting >= 60


def test_the_far_point_is_the_reciprocal_of_the_refraction(model: Model, cases: dict[str, dict]) -> None:
    """An uncorrected eye of -n D sees sharpest at 1/n m: the definition of the dioptre (ISO 80000-7, vergence)."""
    seen = 0
    for name, cells in cases.items():
        for eye in EYES:
            refraction, said = by_key(model, cells, "predicted_mean", eye), _told(model, cells, "told_reach", eye)
            if not said or refraction > -0.6:
                continue
            seen += 1
            near = [int(word) for word in said.split() if word.isdigit()]
            assert near and abs(near[0] / 100 + 1 / refraction) <= 0.005 + 1e-9, (name, eye, said)
    assert seen >= 8


@pytest.mark.parametrize("diagnosis", ["keratoconus", "ectasia_after_laser", "pellucid"])
def test_no_laser_is_held_out_to_a_cone(model: Model, diagnosis: str) -> None:
    """Corneal laser weakens a cornea that bulges (common practice, no source)."""
    place = model.layout.cells("diagnoses", "diagnosis_laser_told")["", diagnosis]
    assert place.row.cells[diagnosis] == "word.told_laser_never"
