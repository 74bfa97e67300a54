"""The drawn corneas show what is published of such eyes; each figure says where it comes from."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest

from builder.planner.optics.corneas import CORNEAS, FIGURES, Corneas, back_factor, draw, figures, figures_of, kinds
from builder.planner.optics.eye import disc
from builder.planner.optics.instruments import exact, peak, repeats
from builder.planner.optics.surfaces import Bump, Surface

EYES, SEED = 600, 7
MARKS = set("PMCS")
CLINICAL = CORNEAS.parent


def drawn(kind: str) -> Corneas:
    return draw(kind, EYES, np.random.Generator(np.random.PCG64(SEED)))


def coma_like(front: Surface) -> np.ndarray:
    """Root mean square of the third and fifth order waves of the front over 6 mm, micrometres, as alio2006 gives them.

    Least squares of Zernike terms up to the fifth order over the sag times n - 1 (0.376); the standard's norms.
    """
    x, y = disc(400)
    points = np.repeat(np.stack([3 * x, 3 * y])[:, None], len(front), axis=1)
    r, angle = np.hypot(x, y), np.arctan2(y, x)
    odd = [8**0.5 * (3 * r**3 - 2 * r), 12**0.5 * (10 * r**5 - 12 * r**3 + 3 * r)]
    coma = [wave * turn for wave in odd for turn in (np.cos(angle), np.sin(angle))]
    plain = [r * np.cos(angle), r * np.sin(angle), r * r, r**4]
    plain += [
        r**p * turn(order * angle) for p, order in ((2, 2), (4, 2), (3, 3), (5, 3), (4, 4)) for turn in (np.cos, np.sin)
    ]
    terms = np.stack([*coma, np.ones_like(r), *plain], axis=1)
    found = np.linalg.lstsq(terms, 376 * front.at(points).sag.T, rcond=None)[0]
    return np.asarray(np.linalg.norm(found[:4], axis=0))


def shown(cornea: Corneas) -> dict[str, np.ndarray]:
    """What the claims speak of."""
    read = exact(cornea)
    front, back = read["ring_3.0"], read["back"]
    return {
        "ring_mean": front.mean,
        "back_cylinder": np.hypot(back.x, back.y),
        "back_vertical": np.abs(back.axis() - 90) < 30,
        "k_minus_gaussian": read["zone_3"].mean - read["total_3"].mean,
        "coma": coma_like(cornea.front),
        "against_the_rule": np.abs(front.axis() - 90) > 60,
    }


@pytest.mark.parametrize("claim", figures()["claim"], ids=lambda claim: f"{claim['of']} of {claim['kinds'][0]}")
def test_the_series_shows_what_is_published(claim: dict) -> None:  # type: ignore[type-arg]
    values = np.concatenate([shown(drawn(kind))[claim["of"]] for kind in claim["kinds"]])
    assert "mean" in claim or "share" in claim
    if "mean" in claim:
        assert abs(values.mean() - claim["mean"]) <= claim["off"]
    if "sd" in claim:
        assert abs(values.std() - claim["sd"]) <= claim["sd_off"]
    if "share" in claim:
        assert ((values >= claim["low"]) & (values <= claim["high"])).mean() >= claim["share"]


def test_every_figure_has_its_mark_and_its_source() -> None:
    known = {entry["key"] for entry in tomllib.loads((CLINICAL / "sources.toml").read_text())["source"]}
    known |= {entry["key"] for entry in figures()["source"]}
    entries = [entry for kind in figures()["kind"].values() for entry in kind.values() if isinstance(entry, dict)]
    entries += [entry for table in figures()["repeat"].values() for entry in table.values()] + figures()["claim"]
    assert len(entries) > 80
    for entry in entries:
        assert entry["mark"] in MARKS
        assert entry["source"] in known if entry["mark"] in "PM" else entry["source"] == ""


def test_every_kind_can_be_drawn_and_has_every_figure() -> None:
    asked = {"regular", "pellucid", "ectasia_after_laser", "after_myopic_laser", "radial_cuts", "graft"}
    asked |= {f"{kind}_cone_{stage}" for kind in ("central", "paracentral") for stage in (1, 2, 3)}
    assert set(kinds()) == asked
    for kind in kinds():
        assert list(figures_of(kind)) and set(figures_of(kind)) == set(FIGURES)
        assert not np.isnan(peak(drawn(kind).front)).any()


def test_the_same_seed_draws_the_same_corneas() -> None:
    first, second = (shown(drawn("pellucid"))["ring_mean"] for _ in range(2))
    assert np.array_equal(first, second)


def test_repeatability_is_the_published_one() -> None:
    """2.77 standard deviations within an eye: 0.51 D for the flat K and 1.23 D for the peak (plosone2020rep)."""
    sd = repeats("graft")
    flat = np.hypot(sd["power"], sd["vector"] / 2)  # flat = mean - C/2, and C errs as its vector does along it
    assert round(2.77 * flat, 2) == 0.51
    assert round(2.77 * sd["peak"], 2) == 1.23


def test_shapes_vary_from_cone_to_cone() -> None:
    """What a rule leaves in a cone turns on its width and distance: both must spread (settings, no source)."""
    cones = [drawn(kind) for kind in kinds() if kind.startswith(("central", "paracentral"))]
    width, off = (np.concatenate([cone.drawn[key] for cone in cones]) for key in ("cone_width", "cone_off"))
    assert np.quantile(width, 0.02) < 1.3 and np.quantile(width, 0.98) > 2.3
    assert np.quantile(off, 0.1) < 0.4 and np.quantile(off, 0.9) > 1.3
    assert abs(np.corrcoef(width[:, 0], off[:, 0])[0, 1]) < 0.1


@pytest.mark.parametrize("kind", ["central_cone_2", "paracentral_cone_2", "pellucid"])
def test_a_cone_is_thinnest_where_it_bulges(kind: str) -> None:
    cornea = drawn(kind)
    bump = next(part for part in cornea.front.parts if isinstance(part, Bump))
    at = np.stack(np.broadcast_arrays(bump.centre_x, bump.centre_y))
    across = cornea.back.at(np.concatenate([at, -at], axis=2)).sag + cornea.back.depth
    across = across - cornea.front.at(np.concatenate([at, -at], axis=2)).sag
    assert np.mean(across[:, 0] < across[:, 1]) > 0.95
    assert across.min() > 0.2


def test_a_flatter_front_after_laser_stands_over_an_unchanged_back() -> None:
    before, after = shown(drawn("regular")), shown(drawn("after_myopic_laser"))
    ratio = [np.mean(back_factor() / exact(drawn(kind))["back"].mean) for kind in ("regular", "after_myopic_laser")]
    assert ratio[0] == pytest.approx(ratio[1], rel=0.01)
    assert 2 < before["ring_mean"].mean() - after["ring_mean"].mean() < 5
