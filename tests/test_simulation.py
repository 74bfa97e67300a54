"""The invented register: the same draws each time, marked as invented, true to the figures that it is drawn from."""

import tomllib

import numpy as np
import pytest

from builder.engine.model import Model, load_model
from builder.engine.spec.reading import SPECS
from builder.planner.books import REGISTER
from builder.planner.exchange.register import columns, register_cells
from builder.planner.gather.lines import Line, line_columns
from builder.planner.simulation.eyes import MARK, Case
from builder.planner.simulation.population import POPULATION, load_population
from builder.planner.simulation.register import simulate, simulated_lines
from builder.planner.simulation.store import SIMULATED, as_table, from_table, read_simulated
from builder.planner.values import evaluate_cases

EYES = 120
STANDARD_ERRORS = 3.5  # a mean of draws may lie so far off: 1 chance in 2,000


@pytest.fixture(scope="module")
def lines(model: Model) -> list[Line]:
    """The register lines of the kept eyes."""
    return simulated_lines(model)


def _flat(cases: list[Case]) -> list[tuple[str, object]]:
    """Every entry by its key, in the order of the keys: a table's columns stand as its first lines need them."""
    return sorted(
        (f"{number}.{table}.{key}", value)
        for number, case in enumerate(from_table(as_table(cases)))
        for table, content in case.items()
        for key, value in content.items()
    )


def test_the_kept_eyes_are_the_drawn_ones(model: Model) -> None:
    """The seed gives the kept table again; another processor may round one value in a hundred the other way."""
    drawn, kept = _flat(simulate(model)), _flat(read_simulated())
    assert [key for key, _ in drawn] == [key for key, _ in kept]
    assert sum(one != other for one, other in zip(drawn, kept, strict=True)) <= len(kept) / 100


def test_every_eye_is_marked_as_invented(lines: list[Line]) -> None:
    """120 eyes, one line each; the mark is in the file number, on each page, and in the table's first line."""
    assert len(lines) == EYES
    assert len({(line["file_number"], line["eye"]) for line in lines}) == EYES
    assert all(line["file_number"].startswith(MARK) for line in lines)
    assert "no real person" in SIMULATED.read_text(encoding="utf-8").splitlines()[0]
    assert not any("ring_segments" in eye for case in read_simulated() for eye in case.values())


def test_every_figure_says_where_it_is_from() -> None:
    """Published and remembered figures have a source that is listed; the others are settings of ours."""
    table = tomllib.loads(POPULATION.read_text(encoding="utf-8"))
    listed = {source["key"] for source in table["source"]}
    listed |= {s["key"] for s in tomllib.loads((SPECS / "clinical" / "sources.toml").read_text("utf-8"))["source"]}
    for row in (*table["figure"], *table["group"]):
        assert row["mark"] in ("P", "M", "S"), row
        assert (row["source"] in listed) if row["mark"] != "S" else row["source"] == "", row


def test_the_columns_are_those_of_the_register() -> None:
    """In their order, so that a line can be pasted."""
    assert line_columns() == tuple(columns(load_model(REGISTER)))


def test_the_register_counts_every_simulated_line(lines: list[Line]) -> None:
    """Each of the 120 lines is complete, in its limits and counted; none is left out."""
    register = load_model(REGISTER)
    counts = evaluate_cases(register, [register_cells(register, lines)]).get("lines", "line_counts")[0]
    assert counts[:EYES].tolist() == [1.0] * EYES
    assert np.nansum(counts) == EYES


def test_the_eyes_have_the_figures_that_they_are_drawn_from(lines: list[Line]) -> None:
    """Length and depth of ordinary eyes against hoffer1980 (figures from memory): means of the draws."""
    figures = load_population().figures
    ordinary = [line for line in lines if line["corneal_diagnosis"] in ("regular", "keratoconus", "graft", "pellucid")]
    for column, key in (("axial_length", "length"), ("acd", "depth")):
        mean, sd = figures[key]
        cones = 0.25 * np.mean([line["corneal_diagnosis"] in ("keratoconus", "pellucid") for line in ordinary])
        wanted = mean + (cones if key == "depth" else 0.0)
        persons = len({line["file_number"] for line in ordinary})
        found = np.mean([line[column] for line in ordinary])
        assert abs(found - wanted) < STANDARD_ERRORS * sd / np.sqrt(persons), column


def test_the_incisions_flatten_as_drawn(lines: list[Line]) -> None:
    """Turned to each incision, the rings before and after give back the mean effect that was drawn."""
    mean, sd = load_population().figures["incision_effect"]

    def ring(line: Line, when: str) -> complex:
        return line[f"ring_cylinder_{when}"] * np.exp(2j * np.radians(line[f"ring_axis_{when}"]))

    along = [
        -((ring(line, "after") - ring(line, "before")) * np.exp(-2j * np.radians(line["incision_meridian"]))).real
        for line in lines
        if line["ring_axis_after"] is not None
    ]
    noise = load_population().figures["reading_noise"][1]
    assert abs(np.mean(along) - mean) < STANDARD_ERRORS * np.hypot(sd, 2 * noise) / np.sqrt(len(along))


def test_the_lens_that_lies_deeper_ends_hyperopic(lines: list[Line]) -> None:
    """The lens whose constants are wrong shows it: about 1.3 D a mm (common practice)."""
    deeper = load_population().figures["deeper_wren"][0]
    ordinary = [line for line in lines if line["corneal_diagnosis"] == "regular"]

    def mean_error(wren: bool) -> float:
        return float(
            np.mean(
                [
                    line["sphere"] + line["cylinder"] / 2 - line["predicted_sphere"] - line["predicted_cylinder"] / 2
                    for line in ordinary
                    if (line["lens"] == "Example Wren") is wren
                ]
            )
        )

    assert 0.5 < (mean_error(True) - mean_error(False)) / (1.3 * deeper) < 3
