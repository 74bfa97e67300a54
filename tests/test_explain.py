"""`explain`: what it says of a row, an input, a constant, a word and a key of `read`, held against the specs."""

from __future__ import annotations

import pytest

from builder.cli import main
from builder.engine.explain import UnknownKey, explain, explain_in, known
from builder.engine.model import Model, load_model
from builder.engine.spec.reading import SPECS
from builder.planner.books import REGISTER


def said(model: Model, key: str) -> str:
    return "\n".join(explain(model, key))


def test_a_row(model: Model) -> None:
    """Its place, both forms of its formula, unit, source with how it was seen, what feeds it, what it feeds."""
    text = said(model, "srkt_raw_position")
    place = model.layout.cells("eyes", "srkt_raw_position")["right", "right"].place
    assert f"{place.address}:" in text and "right to left" in text
    assert "srkt_dome_height+srkt_depth_slope*chosen_a+srkt_depth_offset-srkt_depth_height" in text
    assert "=" + model.compiled[place].formula in text
    assert "unit     mm" in text
    assert "retzlaff1990: Retzlaff JA" in text and "(equations memory)" in text
    fed = next(line for line in text.splitlines() if line.startswith("  fed by"))
    assert {"srkt_dome_height,", "chosen_a,", "srkt_depth_slope,", "srkt_depth_height"} <= set(fed.split())
    assert "feeds    raw_position" in text


def test_a_row_names_the_function_of_the_reference_that_checks_it(model: Model) -> None:
    """That function is there; of a row that only shows others, or only displays, it says so. Of both workbooks."""
    for book, key, path, function in (
        (model, "mean_k", "builder/planner/reference/plan/cornea.py", "choose_power"),
        (load_model(REGISTER), "error_lead", "builder/planner/reference/register/errors.py", "line_errors"),
    ):
        assert f"checked  by {path}, {function}\n" in said(book, key)
        assert f"def {function}(" in (SPECS.parent / path).read_text(encoding="utf-8")
    assert "checked  by its parts: it only shows them" in said(model, "point_first")
    assert "checked  by tests/displays/plan, by written expectations" in said(model, "bar_across")


def test_an_input_shows_its_limits_and_its_used_value(model: Model) -> None:
    """The typed cell with kind and limits first, then the row that others read."""
    text = said(model, "axial_length")
    assert "number from 17 to 36 mm" in text  # the limits of clinical-basis section 3
    assert text.index("typed_axial_length:") < text.index("\naxial_length:")
    assert "'optical', 'immersion', 'contact'" in said(model, "axial_length_method")
    assert "default_vertex if left empty" in said(model, "refraction_vertex")


def test_a_constant_and_a_word(model: Model) -> None:
    """Value, unit, mark and source; who cites it."""
    text = said(model, "population_k")
    assert "value    43.86 D" in text and "holladay2003: Holladay JT" in text and "feeds    position_k" in text
    assert model.spec.words.get("word", "mark_P") in text
    assert "cited by" in said(model, "word.used") and "more" in said(model, "word.used")


def test_a_key_of_read_names_its_rows(model: Model) -> None:
    """`srkt_position` is an instance of lens_position, `powers` a list of rows."""
    assert said(model, "srkt_position").startswith("lens_position:")
    assert "read as  powers[].srkt" in said(model, "powers")


def test_every_key_can_be_explained(model: Model) -> None:
    """No key that the command offers fails."""
    keys = known(model)
    assert len(keys) > 1000
    for key in keys[::29]:
        assert explain(model, key)


def test_an_unknown_key_is_refused_with_the_nearest(model: Model, capsys: pytest.CaptureFixture[str]) -> None:
    """In one sentence, and the command ends with 2."""
    with pytest.raises(UnknownKey, match="did you mean 'mean_k'"):
        explain(model, "mean_kk")
    assert main(["explain", "axial_lenght"]) == 2
    assert "did you mean 'axial_length'" in capsys.readouterr().err


def test_both_workbooks_are_searched_and_named(model: Model) -> None:
    """A row of the register alone, one of the plan alone, one in both."""
    both = [model, load_model(REGISTER)]
    plan, register = "In: Planning workbook for cataract surgery in irregular corneas", "In: Outcome register"
    assert explain_in(both, "share_half")[0].startswith(register)
    assert explain_in(both, "srkt_raw_position")[0] == plan
    text = "\n".join(explain_in(both, "axial_length"))
    assert text.startswith(plan) and f"\n{register}" in text


def test_an_unknown_word_lists_the_keys_that_contain_it(model: Model, capsys: pytest.CaptureFixture[str]) -> None:
    """Keys of both workbooks."""
    with pytest.raises(UnknownKey, match=r"; keys that contain it: .*lens_power.* and \d+ more$"):
        explain_in([model, load_model(REGISTER)], "lens_")
    assert main(["explain", "wilson"]) == 2
    assert "wilson_low_half" in capsys.readouterr().err
