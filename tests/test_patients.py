"""Limits by patients: two eyes of one patient are not independent. The estimator is that of Liang KY, Zeger SL,
Biometrika 1986;73:13-22 (the sandwich with working independence), here once more as matrices, from memory; limits of
shares are checked against scipy's, and the whole against resampling of patients.
"""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import binomtest, f

from builder.engine.model import Model, load_model
from builder.planner.books import REGISTER
from builder.planner.exchange.register import register_cells
from builder.planner.reference.plan.cells import Values
from builder.planner.reference.register.errors import LIMITS, limit, wilson
from builder.planner.reference.register.patients import design
from builder.planner.values import evaluate_cases
from tests.support.register_lines import invented_lines, of_patients, paired, row_of
from tests.support.witnesses import compare, witness

LINES, PATIENTS, SHORT, Z = 120, 24, 12, 1.96
Line = dict[str, Any]


@pytest.fixture(scope="module")
def register() -> Model:
    return load_model(REGISTER, lines=LINES)


def evaluated(model: Model, lines: list[Line]) -> Values:
    return evaluate_cases(model, [register_cells(model, lines)])


def sandwich(errors: NDArray[np.float64], groups: NDArray[Any]) -> float:
    """Variance of the constant of a regression on nothing else, by the matrices of the estimator."""
    design_matrix = np.ones((errors.size, 1))
    bread = np.linalg.inv(design_matrix.T @ design_matrix)
    residual = errors - design_matrix @ (bread @ design_matrix.T @ errors)
    meat = np.zeros((1, 1))
    names = np.unique(groups)
    for name in names:
        score = design_matrix[groups == name].T @ residual[groups == name]
        meat += np.outer(score, score)
    return float(names.size / (names.size - 1) * (bread @ meat @ bread)[0, 0])


def of_series(values: Values, key: str) -> float:
    return float(values.get("series", key)[0, 0])


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_the_limits_are_those_of_the_sandwich(register: Model, seed: int) -> None:
    """Of the mean and, through the effective number of eyes, of each share."""
    lines = paired(LINES // 2, seed)
    values = evaluated(register, lines)
    errors = values.get("lines", "error_lead")[0]
    groups = np.array([line["file_number"] for line in lines])
    there = ~np.isnan(errors)
    robust = sandwich(errors[there], groups[there])
    assert robust > 1.5 * errors[there].var(ddof=1) / there.sum(), "the pairs of this register go together"
    assert of_series(values, "mean_margin") == pytest.approx(Z * np.sqrt(robust), rel=1e-9)
    assert of_series(values, "patients_counted") == len(set(groups[there]))
    for key in LIMITS:
        inside = (np.abs(errors[there]) <= limit(key) + 1e-9).astype(float)
        share, eyes = inside.mean(), there.sum()
        effect = max(1.0, sandwich(inside, groups[there]) / (share * (1 - share) / (eyes - 1)))
        low, high = wilson(inside.sum() / effect, eyes / effect)
        assert of_series(values, f"wilson_low_{key}") == pytest.approx(100 * low, rel=1e-9)
        assert of_series(values, f"wilson_high_{key}") == pytest.approx(100 * high, rel=1e-9)


def by_patients(values: NDArray[np.float64], groups: NDArray[Any]) -> float:
    """Variance of their mean by the sandwich, never below that of as many independent eyes."""
    there = ~np.isnan(values)
    return max(sandwich(values[there], groups[there]), float(values[there].var(ddof=1)) / there.sum())


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_vectors_incisions_and_lens_constants_count_patients_too(register: Model, seed: int) -> None:
    """Limits of mean vectors (scipy's F in the place of its closed form), of the own incision and of a new constant."""
    plain = {"corneal_diagnosis": "regular", "mean_k_source": "ring", "lens_seat": "in the bag"}
    lines = [{**line, **plain} for line in paired(LINES // 2, seed)]
    values = evaluated(register, lines)
    groups = np.array([line["file_number"] for line in lines])
    for part in "xy":
        one = values.get("lines", f"missed_{part}")[0]
        eyes = int((~np.isnan(one)).sum())
        quantile = 2 / (eyes - 2) * f.ppf(0.95, 2, eyes - 2)
        expected = np.sqrt((eyes - 1) * quantile * by_patients(one, groups))
        assert values.get("clouds", f"mean_bar_{part}")[0, -1] == pytest.approx(expected, rel=1e-9)
    flattening = values.get("lines", "flattening")[0]
    margin = float(values.get("plan", "flattening_margin")[0])
    assert margin == pytest.approx(Z * np.sqrt(by_patients(flattening, groups)), rel=1e-9)
    judged = 0
    for lens in range(1, 4):
        for formula in ("srkt", "haigis"):
            miss, of = (row_of(register, values, "lines", f"{formula}_{key}") for key in ("miss1", "judged"))
            here = np.where(of == lens, miss, np.nan)
            keys = ("give_or_take", "slope")
            found = [row_of(register, values, "lens_rows", f"{formula}_{key}")[lens - 1] for key in keys]
            if not np.isnan(found[0]):
                judged += 1
                assert found[0] == pytest.approx(Z * np.sqrt(by_patients(here, groups)) / found[1], rel=1e-9)
    assert judged


def test_one_eye_a_patient_has_the_limits_of_print(register: Model) -> None:
    """Then they are the plain ones: scipy's limits by Wilson (z 1.95996 there, 1.96 here), and z s/sqrt(n)."""
    lines = [{**line, "file_number": f"P{n}"} for n, line in enumerate(invented_lines(LINES, seed=7))]
    values = evaluated(register, lines)
    errors = values.get("lines", "error_lead")[0]
    some = errors[~np.isnan(errors)]
    assert of_series(values, "mean_margin") == pytest.approx(Z * some.std(ddof=1) / np.sqrt(some.size), rel=1e-9)
    for key in LIMITS:
        of_scipy = binomtest(int((np.abs(some) <= limit(key) + 1e-9).sum()), some.size).proportion_ci(method="wilson")
        assert of_series(values, f"wilson_low_{key}") == pytest.approx(100 * of_scipy.low, abs=2e-3)
        assert of_series(values, f"wilson_high_{key}") == pytest.approx(100 * of_scipy.high, abs=2e-3)


def test_the_cells_come_to_the_same_by_pairs() -> None:
    """In registers long enough for lens constants, ellipses and an incision; the reference knows no pair."""
    model = load_model(REGISTER, lines=2 * PATIENTS)
    states = {str(number): typed for number, typed in enumerate(of_patients(model, PATIENTS))}
    found = compare(model, states, witness(REGISTER, lines=2 * PATIENTS))
    assert found.cells > 10_000 and not found.wrong, "\n".join(found.told(model))


def test_an_eye_copied_as_its_fellow_tells_nothing_new(register: Model) -> None:
    """The same eyes once, and each as both eyes: the same limits of the mean, the shares' within a tenth per cent."""
    once = [{**line, "file_number": f"P{n}", "eye": "right"} for n, line in enumerate(invented_lines(60, seed=9))]
    twice = [{**line, "eye": eye} for line in once for eye in ("right", "left")]
    one, two = evaluated(register, once), evaluated(register, twice)
    assert of_series(two, "eyes_counted") == 2 * of_series(one, "eyes_counted")
    assert of_series(two, "mean_margin") == pytest.approx(of_series(one, "mean_margin"), rel=1e-9)
    for end in ("low", "high"):
        name = f"wilson_{end}_half"
        assert of_series(two, name) == pytest.approx(of_series(one, name), abs=0.1)
    regular = [
        float(v.get("diagnoses", "wilson_high_half")[0, 0] - v.get("diagnoses", "wilson_low_half")[0, 0])
        for v in (one, two)
    ]
    assert regular[1] == pytest.approx(regular[0], abs=1.0), "groups likewise"


def test_limits_are_never_narrower_than_of_as_many_independent_eyes(register: Model) -> None:
    """Errors of both eyes that happen to cancel out are chance, no knowledge."""
    patient = np.repeat(np.arange(30.0), 2)
    size = np.linspace(0.1, 1.2, 30).repeat(2) * np.tile([1.0, -1.0], 30)
    assert design(size, patient) == 1.0
    assert design(np.zeros(60), patient) == 2.0, "without any spread: as many eyes as patients"


def test_resampled_patients_vary_as_the_limits_say() -> None:
    """4,000 resamples of 80 patients, drawn with a correlation of 0.6 between the eyes."""
    draw = np.random.default_rng(17)
    error = draw.multivariate_normal([0.2, 0.2], [[0.25, 0.15], [0.15, 0.25]], 80)
    flat, patient = error.ravel(), np.repeat(np.arange(80.0), 2)
    effect = design(flat - flat.mean(), patient)
    means = error[draw.integers(0, 80, (4000, 80))].mean(axis=(1, 2))
    assert 1.3 < effect < 1.9
    assert means.std() == pytest.approx(np.sqrt(effect * flat.var(ddof=1) / flat.size), rel=0.06)


def test_the_other_eye_is_found_by_number_and_by_name(register: Model) -> None:
    """Numbers, and names in another writing; a line that is left out is no fellow, nor has it one."""
    first, *more = invented_lines(8, seed=2)
    numbers = [
        (4711, "right"),
        (4711, "left"),
        ("Ab-1", "right"),
        ("aB-1", "left"),
        ("A*", "left"),
        ("B9", "left"),
        ("B9", "right"),
    ]
    lines = [{**line, "file_number": n, "eye": eye} for line, (n, eye) in zip((first, *more), numbers, strict=False)]
    lines[-1]["axial_length"] = "?"
    values = evaluated(register, lines)
    assert of_series(values, "patients_counted") == 3
    found = row_of(register, values, "lines", "fellow_line")[:7].tolist()
    assert found[:4] == [2, 1, 4, 3] and found[5] == 0 and np.isnan([found[4], found[6]]).all()


def test_a_back_corrected_k_does_not_enter_the_constants() -> None:
    """In cells and reference: the eyes with such a K might as well have another cornea."""
    model, seen = load_model(REGISTER, lines=SHORT), witness(REGISTER, lines=SHORT)
    plain = {"corneal_diagnosis": "regular", "mean_k_source": "ring", "lens_seat": "in the bag"}
    lines = [{**line, **plain} for line in invented_lines(SHORT, seed=5)]
    other = copy.deepcopy(lines)
    for line in other[::3]:
        line["mean_k_source"] = "back"
    places = [slot.place for slot in model.layout.cells("lens_rows", "lens_regular_eyes").values()]
    counts = []
    for typed in (lines, other):
        cells = register_cells(model, typed)
        told = seen.values(cells)
        wanted = evaluate_cases(model, [cells]).get("lens_rows", "lens_regular_eyes")[0]
        assert [told[place] for place in places] == wanted.tolist()
        counts.append(wanted.sum())
    assert counts[0] - counts[1] == len(other[::3])
