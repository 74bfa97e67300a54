"""What traced eyes decide: measures by hand, decisions that follow from committed figures, figures found anew.

The figures are this bench's own; what is tested is that they are what the code gives and that words follow them.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from builder.engine.model import load_model
from builder.engine.spec.reading import SPECS
from builder.planner.reference.constants import CONSTANTS
from builder.planner.trial import decided, picture
from builder.planner.trial.before import sd_before
from builder.planner.trial.bench import Bench, bands, bench
from builder.planner.trial.eyes import MEANINGS, read_kept
from builder.planner.trial.measures import MEASURES, figures, need
from builder.planner.trial.measures_toric import skew
from builder.planner.trial.planned import plan
from builder.planner.trial.rules import table, try_rules

README = SPECS.parent / "README.md"
KEYS = [entry["key"] for entry in decided.rules()]


@cache
def kept() -> Bench:
    lines = read_kept()
    return bench(lines, plan(lines, load_model()))


@cache
def found() -> dict[str, decided.Tried]:
    return decided.decide(kept())


def of_rule(key: str, seed: int) -> list[decided.Row]:
    return [row for row in decided.read_figures() if (row.rule, row.seed) == (key, seed)]


def test_each_rule_is_told_whole() -> None:
    assert len(set(KEYS)) == len(KEYS)
    for entry in decided.rules():
        assert entry["decision"] in decided.DECISIONS and entry["mark"] in "PSB" and entry["rule"] and entry["why"]
        assert entry.get("measure", "least") in MEASURES
        assert ("before" in entry) == ("after" in entry) == ("shown" in entry)


def test_what_was_decided_is_the_source_of_its_constants_and_of_no_other() -> None:
    table_ = tomllib.loads((SPECS / "clinical" / "constants.toml").read_text())["constant"]
    by_bench = {entry["key"] for entry in table_ if entry["source"] == "bench"}
    named = [(key, entry["decision"]) for entry in decided.rules() for key in entry.get("constants", ())]
    assert {key for key, decision in named if decision != "undecidable"} == by_bench
    assert {key for key, _ in named} <= {entry["key"] for entry in table_}


@pytest.mark.parametrize("entry", decided.rules(), ids=KEYS)
def test_a_decision_follows_from_the_committed_figures(entry: dict[str, object]) -> None:
    """Confirmed or changed only where all four meanings hold, with one seed and with another and twice the eyes."""
    rows = [of_rule(str(entry["key"]), seed) for _, seed in decided.SITTINGS]
    if "measure" not in entry:
        assert rows == [[], []] and entry["decision"] == "undecidable"
        return
    assert [row.what for row in rows[0]] == [row.what for row in rows[1]] or entry["measure"] == "covered"
    held = all(all(row.holds) for each in rows for row in each)
    assert all(rows) and held == (entry["decision"] != "undecidable")


@pytest.mark.parametrize("key", [entry["key"] for entry in decided.rules() if "measure" in entry])
def test_the_kept_eyes_give_the_committed_figures_again(key: str) -> None:
    """Other draws of the same kinds: shares within four standard errors and 0.05, all else within 0.35 D or a fifth."""
    committed = {row.what: row for row in of_rule(key, decided.SITTINGS[0][1])}
    compared = 0
    for line in found()[key].lines:
        row = committed[line.what]
        for value, before in zip(line.values, row.values, strict=True):
            if line.eyes < 15 or np.isnan(value):
                continue
            compared += 1
            if re.search("gain|lose|hyperopic|myopic|covered|within", line.what) or key.startswith("odds"):
                share = min(max(before, 0.02), 0.98)
                assert abs(value - before) < 4 * np.sqrt(share * (1 - share) / line.eyes) + 0.05, line
            else:
                assert abs(value - before) < max(0.35, 0.2 * abs(before)), line
    assert compared >= 4


def test_another_seed_and_twice_the_eyes_move_no_group_by_much() -> None:
    change, row = decided.largest_change([row for row in decided.read_figures() if row.rule != "peak"])
    assert change < 0.15, row


@pytest.mark.parametrize(("sine", "wanted"), [(0.0, 0), (4 * np.sin(np.radians(10)), 20), (2.0, 60)])
def test_skew_by_hand(sine: float, wanted: float) -> None:
    """3 cos 2t + 3 b sin t is greatest where sin t = b/4, on both sides: a skew of twice that angle."""
    angle = np.radians(np.arange(0, 360, 30))
    ring = 45 + 3 * np.cos(2 * angle) + 3 * sine * np.sin(angle)
    line = {"map_d3": ring.tolist()}
    assert skew(kept()._replace(lines=[line]))[0] == pytest.approx(wanted, abs=1)


def test_errors_by_hand() -> None:
    got = figures(np.array([0.6, -1.2, 0.0, np.nan, 0.2]))
    assert got == pytest.approx({"mean": -0.1, "rms": np.sqrt(1.84 / 4), "hyperopic": 0.25, "myopic": 0.25})


def test_a_limit_belongs_to_the_milder_band() -> None:
    limits = CONSTANTS.skew_good, CONSTANTS.skew_borderline
    by_band = dict(
        bands(np.array([limits[0], limits[0] + 1, limits[1], limits[1] + 1]), ["skew_good", "skew_borderline"])
    )
    assert [which.tolist() for which in by_band.values()] == [[1, 0, 0, 0], [0, 1, 1, 0], [0, 0, 0, 1]]


def test_the_share_used_below_the_ring_is_counted_from_the_lower_end() -> None:
    """The other way: by the errors of the ring in Holladay 1's corneal power, 1000/3 over the radius (holladay1988)."""
    lines = kept().lines
    ring, zone = ((line[f"{key}_flat"] + line[f"{key}_steep"]) / 2 for key in ("ring", "zone3") for line in lines[5:6])
    for at, meaning in enumerate(MEANINGS):
        short = kept().error[meaning, "ring"][5] / (1000 / 3 / 337.5)
        assert need(kept())[at][5] == pytest.approx((min(0, zone - ring) + short) / abs(zone - ring))


def test_what_the_odds_said_before_by_hand() -> None:
    """Length and the rest 0.6 D, slope of the cornea 0.8: at K 51.5 before 1.25 D of K, at 46 in cuts 0.85."""
    parts = np.zeros((2, 7))
    parts[:, 1], parts[:, 6] = 0.8 * 0.9, 0.85
    plan_ = {"mean_k": np.array([51.5, 46.0]), "range_spread": np.array([1.0, np.nan]), "part_error": parts}
    plan_ |= {"part_slope": np.full((2, 7), -0.8), "diagnosis": np.array(["keratoconus", "radial_cuts"])}
    plan_["error_sd"] = np.full(2, np.sqrt(0.6**2 + (0.8 * 0.9) ** 2 + 0.85**2))
    wanted = [np.sqrt(0.6**2 + 1.0**2), np.sqrt(0.6**2 + 0.68**2)]
    assert sd_before(plan_, np.zeros(2, bool)) == pytest.approx(wanted)


def test_the_picture_shows_the_committed_table(tmp_path: Path) -> None:
    shown = picture.bars(picture.kept())
    for line in picture.kept():
        if line.group in shown:
            assert shown[line.group][line.meaning][picture.RULES.index(line.rule)] == 100 * line.hyperopic
    assert len(shown) == 3 and all(tuple(each) == MEANINGS for each in shown.values())


def test_the_committed_picture_was_drawn_from_the_committed_table() -> None:
    """Its file names the hash of the table that it was drawn from: data, not pixels."""
    assert f"Source\0{picture.TABLE.name} {picture.digest()}".encode() in picture.PICTURE.read_bytes()


def test_the_committed_table_is_what_the_rules_give() -> None:
    """Fewer eyes, the same seed: means within four standard errors and 0.1 D."""
    committed = {line[:3]: line for line in picture.kept()}
    for line in table(list(try_rules(360, decided.SITTINGS[0][1]))):
        other = committed[line[:3]]
        assert abs(line.mean - other.mean) < 4 * np.hypot(line.sd, other.sd) / np.sqrt(line.eyes) + 0.1


def test_the_readme_says_what_the_committed_table_says() -> None:
    share = {(line.group, line.meaning, line.rule): line.hyperopic for line in picture.kept()}
    for pupil in ("3 mm", "4 mm"):
        row = next(line for line in README.read_text().splitlines() if line.startswith(f"| {pupil}, wavefront"))
        cells = [cell.strip() for cell in row.split("|")[2:-1]]
        wanted = [
            " / ".join(
                f"{100 * share['cones, K 48 to 55', f'{pupil} {focus}', rule]:.0f}" for focus in ("wavefront", "spot")
            )
            for rule in picture.RULES
        ]
        assert cells == wanted


def test_the_guide_prints_the_committed_table() -> None:
    text = (SPECS.parent / "DEVELOPERS.md").read_text()
    assert "\n".join(decided.as_table()) in text
