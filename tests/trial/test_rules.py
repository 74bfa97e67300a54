"""The rules tried by light: arithmetic by hand, a law, and conclusions that another seed must not change.

What the conclusions say is what this bench found, no published value; the shapes it draws are in corneas.toml.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from builder.cli import main
from builder.planner.optics.corneas import draw, kinds
from builder.planner.optics.instruments import read
from builder.planner.reference import vergence
from builder.planner.reference.keratometry import back_corrected_k
from builder.planner.trial.report import CANNOT_SHOW, as_csv, report
from builder.planner.trial.rules import REGULAR, Line, Tried, ks, table, tried, try_rules

SEEDS, EYES = (7, 8), 600
MEANINGS = ("3 mm wavefront", "3 mm spot", "4 mm wavefront", "4 mm spot")
CONES = ("cones, K below 48", "cones, K 48 to 55", "cones, K from 55")

ENDS = ("flat", "steep")
READ = {"ring": (45, 47), "zone3": (45.5, 47.5), "zone4": (45, 46.5), "second": (46, 48), "total3": (43, 45)}
RINGS = {"map_center": 50.0, "map_d1": 49.0, "map_d2": 48.0, "map_d3": 47.0, "map_d4": 46.0}


@cache
def found(seed: int) -> tuple[Tried, ...]:
    return tuple(try_rules(EYES, seed))


@cache
def lines(seed: int) -> Mapping[tuple[str, str, str], Line]:
    return {(line.group, line.meaning, line.rule): line for line in table(list(found(seed)))}


def test_each_rule_takes_its_k_by_hand() -> None:
    one = {
        f"{key}_{end}": np.array([value]) for key, pair in READ.items() for end, value in zip(ENDS, pair, strict=True)
    }
    rings = {key: np.full((1, 12), value) for key, value in RINGS.items()}
    back = {"back_flat_radius": np.array([6.6]), "back_steep_radius": np.array([6.2])}
    got = ks(one | rings | back | {"thickness_central": np.array([0.5]), "peak_k": np.array([58.0])})
    # Discs by the published weights: radius 1.5: 1, 6, 12, 8 of 27; radius 2: 1, 6, 12, 18, 11 of 48.
    map3 = (50 + 6 * 49 + 12 * 48 + 8 * 47) / 27
    map4 = (50 + 6 * 49 + 12 * 48 + 18 * 47 + 11 * 46) / 48
    corrected = float(back_corrected_k(46.5, 6.6, 6.2, 0.5))
    assert got["ring"][0] == 46.0 and got["mean of zones"][0] == (46.5 + 45.75) / 2 and got["peak"][0] == 58.0
    assert got["back-corrected"][0] == pytest.approx(corrected)
    assert got["lowest"][0] == pytest.approx(min(46.0, 46.5, 45.75, 47.0, map3, map4, corrected))


@pytest.mark.parametrize("kind", ["regular", "paracentral_cone_2"])
def test_two_rules_differ_by_their_corneal_powers(kind: str) -> None:
    """A law: what a rule predicts is what the eye behind asks for, less the rule's own corneal power."""
    cornea = draw(kind, 40, np.random.default_rng(3))
    generator, again = np.random.default_rng(4), np.random.default_rng(4)
    one = tried(cornea, generator)
    again.standard_normal((2, 40))  # what length and position took of the draws
    k = ks(read(cornea, again))
    for meaning in MEANINGS:
        gap = one.error[meaning, "mean of zones"] - one.error[meaning, "back-corrected"]
        power = [vergence.corneal_power("Holladay 1", k[rule]) for rule in ("mean of zones", "back-corrected")]
        assert np.allclose(gap, power[0] - power[1], atol=1e-9)


def test_regular_eyes_err_by_nothing_on_the_mean() -> None:
    for one in found(SEEDS[0]):
        if one.kind == REGULAR:
            assert np.abs([error.mean() for error in one.error.values()]).max() < 1e-12


def test_every_kind_is_tried_under_four_meanings() -> None:
    assert [one.kind for one in found(SEEDS[0])] == list(kinds())
    assert {meaning for _, meaning, _ in lines(SEEDS[0])} == set(MEANINGS)
    assert sum({group: line.eyes for (group, *_), line in lines(SEEDS[0]).items()}.values()) == EYES // 12 * 12
    assert not any(np.isnan(error).any() for one in found(SEEDS[0]) for error in one.error.values())


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("group", CONES)
def test_in_cones_the_peak_is_hyperopic_under_every_meaning(group: str, seed: int) -> None:
    for meaning in MEANINGS:
        line = lines(seed)[group, meaning, "peak"]
        assert line.mean > 1.5 and line.hyperopic > 0.85


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("group", CONES)
@pytest.mark.parametrize("other", ["mean of zones", "back-corrected", "total"])
def test_in_cones_the_lowest_leaves_fewer_hyperopic(group: str, other: str, seed: int) -> None:
    for meaning in MEANINGS:
        lowest, compared = (lines(seed)[group, meaning, rule] for rule in ("lowest", other))
        assert lowest.mean < compared.mean and lowest.hyperopic <= compared.hyperopic


@pytest.mark.parametrize("seed", SEEDS)
def test_after_laser_the_ring_is_hyperopic_and_the_back_corrected_is_not(seed: int) -> None:
    for meaning in MEANINGS:
        ring, back = (lines(seed)["after myopic laser", meaning, rule] for rule in ("ring", "back-corrected"))
        assert ring.mean > 0.3 and ring.mean > back.mean + 0.8
        assert back.hyperopic < 0.1


def test_another_seed_changes_no_group_by_much() -> None:
    """Means of cones by band move with who falls into the band: a standard error is about 0.1 D, the peak's 0.3."""
    first, second = (lines(seed) for seed in SEEDS)
    assert set(first) == set(second)
    for key, line in first.items():
        error = np.hypot(line.sd / np.sqrt(line.eyes), second[key].sd / np.sqrt(second[key].eyes))
        assert abs(line.mean - second[key].mean) < 4 * error + 0.1, key


def test_the_table_is_kept_and_the_report_shows_all_meanings_together(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "rules.csv"
    assert main(["optics", "--eyes", "60", "--seed", "3", "-o", str(path)]) == 0
    few = list(table(try_rules(60, 3)))
    assert path.read_text() == as_csv(few)
    kept = list(csv.DictReader(io.StringIO(path.read_text())))
    assert len(kept) == len(few)
    assert [float(line["mean"]) for line in kept] == pytest.approx([line.mean for line in few], abs=0.006)
    printed = capsys.readouterr().out.rstrip().split("\n")
    assert printed[-len(list(report(few))) :] == list(report(few))
    assert printed[-1] == CANNOT_SHOW
    assert all(meaning in line for line in printed if line.endswith("4 mm spot") for meaning in MEANINGS)


@pytest.mark.parametrize("eyes", ["0", "-5", "11"])
def test_fewer_eyes_than_kinds_are_refused_in_a_sentence(eyes: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["optics", f"--eyes={eyes}"]) == 2
    assert "12 kinds; ask for one eye of each or more" in capsys.readouterr().err
