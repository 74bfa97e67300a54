"""Mistakes in constants, words, the change log, points and lists of instances are told as those in rows are."""

from pathlib import Path

import pytest

from builder.engine.model import load_model
from builder.engine.spec import SpecError, shapes
from builder.engine.values import cell_values
from builder.engine.write import charts
from builder.planner.values import evaluate_cases
from tests.support.planting import copied_specs, spoil, told

VERSION = load_model().spec.version
POINTS = "16-points.toml"
LIVE = 'key = "missing_length"\nlevel = "stop"\nlive = "'
CONSTANT = 'key = "vertex_of_formulas"\nvalue = 12\nunit = "mm"\nmark = "M"\nsource = "retzlaff1990"\n'

# kind: (the file, what is put for what, the file that is named, the key, what the message says)
ELSEWHERE = {
    "a constant without unit": ("clinical/constants.toml", 'unit = "mm"\nmark', "mark", "has no 'unit'"),
    "a constant with a strange entry": ("clinical/constants.toml", "value = 12", "value = 12\nx = 1", "entry 'x'"),
    "a constant as text": ("clinical/constants.toml", "value = 12", 'value = "12"', "'12', which is no number"),
    "a constant given twice": ("clinical/constants.toml", CONSTANT, f"{CONSTANT}[[constant]]\n{CONSTANT}", "twice"),
    "a constant of an unknown mark": ("clinical/constants.toml", 'mark = "M"', 'mark = "X"', "unknown mark 'X'"),
    "a published constant unsourced": (
        "clinical/constants.toml",
        'mark = "M"\nsource = "retzlaff1990"',
        'mark = "P"\nsource = ""',
        "has the mark P (published) but no source",
    ),
}


@pytest.mark.parametrize("kind", ELSEWHERE)
def test_a_mistake_in_a_constant_is_told(tmp_path: Path, kind: str) -> None:
    """A constant that lacks something, is no number, is there twice or claims a source it does not name."""
    name, old, new, wrong = ELSEWHERE[kind]
    specs = copied_specs(tmp_path)
    spoil(specs / name, CONSTANT, CONSTANT.replace(old, new))
    error = told(specs)
    assert (error.file, error.key) == ("constants.toml", "vertex_of_formulas")
    assert wrong in str(error)


@pytest.mark.parametrize(
    ("name", "old", "new", "file", "key", "wrong"),
    [
        ("words.en.toml", "[label]\n", '[label]\nplanted_row = "Again"\n', "words.en.toml", "syntax", "at line"),
        (
            "words.en.toml",
            "\naxial_length = ",
            "\naxial_lenght = ",
            "words.en.toml",
            "label.axial_length",
            "did you mean 'axial_lenght'?",
        ),
        (
            "plan/workbook.toml",
            'keys = ["right", "left"]',
            'keys = ["right", "left", "third"]',
            "workbook.toml",
            "sides",
            "has 'other', but 3 sides",
        ),
        ("plan/workbook.toml", 'next = "type_next"', "", "workbook.toml", "head", "has no 'next'"),
        (
            "plan/changes.toml",
            "\n[[change]]",
            f'\n[[change]]\nversion = "{VERSION}"\nresults_change = true\ntext = "x"\n\n[[change]]',
            "changes.toml",
            VERSION,
            "has two entries",
        ),
        (
            "plan/changes.toml",
            f'version = "{VERSION}"',
            'version = "0.0.9"',
            "changes.toml",
            "version",
            "or set `version`",
        ),
        ("plan/16-points.toml", LIVE, LIVE.replace("level", "lever"), POINTS, "missing_length", "mean 'level'?"),
        ("plan/16-points.toml", LIVE, LIVE + "mean_kk+", POINTS, "missing_length", "names 'mean_kk'"),
        ("plan/16-points.toml", LIVE, LIVE + "(", POINTS, "missing_length", "has a bracket that is not closed"),
        ("plan/instances.toml", '"example4"', '"example4", "example5"', "14-lenses.toml", "lens_name", "'example5'"),
        (
            "plan/instances.toml",
            '"longest", "rootless"',
            '"longest", "rootless", "another"',
            "16a-proof.toml",
            "axial_length",
            "has no formula for 'another'",
        ),
    ],
)
def test_a_mistake_elsewhere_is_told(
    tmp_path: Path, name: str, old: str, new: str, file: str, key: str, wrong: str
) -> None:
    """Words given twice or missing, the change log, points by their own keys, an instance that a row lacks."""
    specs = copied_specs(tmp_path)
    spoil(specs / name, old, new)
    error = told(specs)
    assert (error.file, error.key) == (file, key)
    assert wrong in str(error)
    assert not str(error).endswith("?.")


@pytest.mark.parametrize(
    ("name", "old", "new", "key", "wrong"),
    [
        (
            "plan/16-points.toml",
            '"biometry_old"',
            '"biometry_new"',
            "biometry_new",
            "is a point that is not computed here",
        ),
        (
            "plan/instances.toml",
            '"why3", "why4"]',
            '"why3", "why4", "why5"]',
            "",
            "has no value for 'why5'",
        ),
        (
            "plan/workbook.toml",
            'keys = ["right", "left"]',
            'keys = ["left", "right"]',
            "sides",
            "are left, right. Name them right, left, in this order",
        ),
    ],
)
def test_what_the_reference_lacks_is_told(tmp_path: Path, name: str, old: str, new: str, key: str, wrong: str) -> None:
    """A point without its condition, and an instance without its value, are told by name and not as a traceback."""
    specs = copied_specs(tmp_path)
    spoil(specs / name, old, new)
    if "biometry_new" in new:
        spoil(specs / "words.en.toml", "\nbiometry_old = ", "\nbiometry_new = ")
        spoil(specs / "hazards.toml", 'points = ["biometry_old"]', 'points = ["biometry_new"]')
    model = load_model(specs=specs)
    with pytest.raises(SpecError, match=wrong) as caught:
        cell_values(model, evaluate_cases(model, [{}]))
    assert caught.value.key.startswith(key)


def test_every_mark_and_line_that_a_chart_may_name_can_be_drawn() -> None:
    """What the specs may say and what the writer knows are the same."""
    assert set(shapes.MARKERS) == set(charts.SHAPES) | set(shapes.BANDS)
    assert len(shapes.BANDS) == len(charts.GREYS)
    assert set(shapes.LINES) == set(charts.LINES)
