"""A value of the wrong kind, a list for a text, a reference to nothing: each is told with file and key, never crashes.

Found by drawing mistakes (tests/test_spec_mistakes_drawn.py); each line is of another place that once crashed or let
the mistake pass.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from builder.engine.model import build_model
from builder.engine.spec import SpecError
from builder.engine.spec.reading import SPECS
from builder.engine.spec.shapes import BANDS, LINES, MARKERS
from builder.engine.write import charts
from builder.planner.books import PLAN, REGISTER
from tests.support.mistakes import Change, first, gone, mistaken, put, renamed

ODDS, LENSES, FIT, START = "plan/10-odds.toml", "plan/14-lenses.toml", "plan/08-fit.toml", "plan/01-start.toml"
POINTS, PROOF, PICTURES = "plan/16-points.toml", "plan/16a-proof.toml", "plan/09-pictures.toml"
READINGS, VISITS, STEPS = "plan/02-readings.toml", "plan/02b-visits.toml", "plan/12d-followsteps.toml"
LISTS, CHOICES, CHANGES = "plan/instances.toml", "plan/choices.toml", "plan/changes.toml"
CONSTANTS, SOURCES = "clinical/constants.toml", "clinical/sources.toml"
STYLES, WORDS = "styles.toml", "words.en.toml"
NAN = float("nan")

# The file, the place in it, the mistake, what the message says.
MISTAKES: list[tuple[str, tuple[str, ...], Change, str]] = [
    (ODDS, ("block", "#", "rows", "#"), put("mean_k"), "is no table of entries but 'mean_k'"),
    (ODDS, ("block", "#", "rows", "#"), put(3), "is no table of entries but 3"),
    (ODDS, ("block", "#", "rows"), put(True), "has True as 'rows'. Give a list of entries"),
    (ODDS, ("block", "#", "rows"), put([]), "has [] as 'rows'. Give a list of entries"),
    (ODDS, ("rows", "#", "key"), put(["mean_k"]), "has ['mean_k'] as 'key'"),
    (ODDS, ("rows", "#", "formula"), put(["mean_k"]), "has ['mean_k'] as 'formula'. Give a text"),
    (ODDS, ("rows", "#", "formula"), put(2), "has 2 as 'formula'. Give a text"),
    (ODDS, ("rows", "#", "formulas"), put("mean_k"), "has 'mean_k' as 'formulas'. Give a table of formulas"),
    (ODDS, ("rows", "#", "needs"), put(True), "has True as 'needs'. Give a list of names"),
    (ODDS, ("rows", "#", "needs"), put([1]), "has [1] as 'needs'. Give a list of names"),
    (ODDS, ("rows", "#", "unit"), put(1), "has 1 as 'unit'. Give a text"),
    (ODDS, ("rows", "#", "source"), put(["norrby2008"]), "has ['norrby2008'] as 'source'"),
    (ODDS, ("rows", "#", "decimals"), put(-1), "has -1 as 'decimals'. Give a whole number from 0 to 9"),
    (ODDS, ("rows", "#", "kind"), put("words"), "has 'words' as 'kind'. Give one of number, axis, word, blank"),
    (ODDS, ("rows", "#", "style"), put(1), "has 1 as 'style'. Give a text"),
    (ODDS, ("rows", "#", "style"), put("bolt"), "has the unknown style 'bolt'"),
    (ODDS, ("rows", "#", "formula"), put("before.mean_kk"), "names 'before.mean_kk', which is not known here"),
    (ODDS, ("rows", "#", "formula"), put("after.mean_kk"), "names 'after.mean_kk', which is not known here"),
    (ODDS, ("rows", "#", "formula"), put("SUM(all.mean_kk)"), "names 'mean_kk', which is not known here"),
    (ODDS, ("rows", "#", "formula"), put("SUM(upto.mean_kk)"), "names 'mean_kk', which is not known here"),
    (PROOF, ("rows", "#", "formula"), put("eye.mean_k"), "names 'mean_k', which is not known here"),
    ("plan/22-dial.toml", ("rows", "#", "formula"), put("COUNT(labels.lens_table)"), "which is not known here"),
    (LENSES, ("rows", "#", "cells"), put([1]), "has [1] as 'cells'. Give a table of numbers and texts"),
    (LENSES, ("rows", "#", "cells", "example1"), put("lens_example1"), "'lens_example1' for 'example1', which is no"),
    (LENSES, ("rows", "#", "cells", "example1"), put(1), "holds 1 for 'example1'. Give a text"),
    (LENSES, ("rows", "#", "cells", "example1"), put("word.lens_examples"), "has no text. Write it under [word]"),
    ("plan/02a-map.toml", ("rows", "#", "cells", "m0"), put("0"), "holds '0' for 'm0'. Give a number"),
    ("plan/05-cornea.toml", ("publish", "gaussian_power"), renamed("gaussian"), "publishes the unknown row 'gaussian'"),
    (START, ("rows", "#", "link"), put("reading"), "leads to the unknown sheet 'reading'"),
    (START, ("rows", "#", "echo"), put({"a": 1}), "has {'a': 1} as 'echo'. Give a text"),
    (STEPS, ("rows", "#", "use"), put(1), "has 1 as 'use'. Give a key"),
    (STEPS, ("rowset", "#"), put(0), "is no table of entries but 0"),
    (STEPS, ("rowset", "#", "key"), gone, "has no 'key'"),
    (STEPS, ("rowset", "#", "rows"), put(True), "has True as 'rows'"),
    ("register/11-vectors.toml", ("rows", "#", "each"), put("outcome"), "has 'outcome' as 'each'. Give a list of keys"),
    ("register/11-vectors.toml", ("rows", "#", "each"), put([]), "has [] as 'each'. Give a list of keys, 1 or more"),
    ("register/11-vectors.toml", ("rows", "#", "each", "#"), put(1), "as 'each'. Give a list of keys"),
    ("register/11-vectors.toml", ("rows", "#", "each", "#"), put("nobody"), "nobody"),
    (ODDS, ("block",), put(1), "has 1 as 'block'. Give a list of entries"),
    (ODDS, ("block", "#"), put(True), "is no table of entries but True"),
    (ODDS, ("block", "#", "key"), put({"a": 1}), "has {'a': 1} as 'key'. Give a key"),
    (ODDS, ("block", "#", "instances"), put(["eyes"]), "has ['eyes'] as 'instances'. Give a key"),
    ("plan/02a-map.toml", ("shade", "#"), put("map_powe"), "is shaded by the unknown 'map_powe'"),
    ("plan/02a-map.toml", ("shade",), put(["map_power"]), "as 'shade'. Give a list of three keys"),
    ("plan/04-second.toml", ("block", "#", "at"), put({}), "has {} as 'at'. Give a whole number"),
    (START, ("block", "#", "text"), put(1.5), "has 1.5 as 'text'. Give a list of keys"),
    (FIT, ("block", "#", "layout"), put("sideways"), "has 'sideways' as 'layout'. Give one of across, down"),
    ("plan/04-second.toml", ("block", "#", "beside"), put("nothing"), "which is no block above it on its sheet"),
    (READINGS, ("inputs", "#"), put("#"), "is no table of entries but '#'"),
    (READINGS, ("block", "#", "inputs"), put(False), "has False as 'inputs'"),
    (READINGS, ("inputs", "#", "key"), put({"a": 1}), "has {'a': 1} as 'key'"),
    (READINGS, ("inputs", "#", "lowest"), put(NAN), "has nan as 'lowest'. Give a number or a name"),
    (READINGS, ("inputs", "#", "choices"), put(["k_unit"]), "has ['k_unit'] as 'choices'. Give a key"),
    (READINGS, ("inputs", "#", "default"), put(1), "has 1 as 'default'. Give a name"),
    (VISITS, ("block", "#", "rows"), gone, "has no row that leads its lines"),
    (PICTURES, ("chart",), put("x"), "has 'x' as 'chart'. Give a list of entries"),
    (PICTURES, ("chart", "#"), put("x"), "is no table of entries but 'x'"),
    (PICTURES, ("chart", "#", "width"), put(0), "has 0 as 'width'. Give a whole number above 0"),
    (PICTURES, ("chart", "#", "title"), put("no_title"), "'text.no_title': has no text"),
    (PICTURES, ("chart", "#", "across_limits"), put([9, 1]), "has [9, 1] as 'across_limits'"),
    (PICTURES, ("series", "#", "up"), put("mean_kk"), "draws the unknown row 'mean_kk'"),
    (PICTURES, ("series", "#", "marker"), put("dott"), "has 'dott' as 'marker'. Give one of dot,"),
    (PICTURES, ("series", "#", "line"), put("thinn"), "has 'thinn' as 'line'. Give one of thin,"),
    (PICTURES, ("landscape",), renamed("landscpae"), "has the unknown entry 'landscpae'. Remove it; did you mean"),
    (PICTURES, ("columns",), put(False), "has False as 'columns'. Give a list of number"),
    (PICTURES, ("columns",), put([]), "has [] as 'columns'. Give a list of number"),
    (PICTURES, ("key",), put(True), "has True as 'key'. Give a key"),
    (PICTURES, ("key",), put("picture"), "'sheet.picture': has no text"),
    ("plan/13-register.toml", ("frozen",), put([3]), "has [3] as 'frozen'. Give a list of two whole numbers"),
    ("plan/17-constants.toml", ("generated",), put([]), "has [] as 'generated'"),
    ("plan/17-constants.toml", ("generated",), gone, 'is "constants" on 0 sheets'),
    ("hazards.toml", ("hazard", "#", "severity"), put("grave"), "has 'grave' as 'severity'. Give one of negligible,"),
    ("hazards.toml", ("hazard", "#", "number"), gone, "has no 'number'"),
    (POINTS, ("point", "#"), put([{}]), "is no table of entries but [{}]"),
    (POINTS, ("point", "#", "key"), put(9), "has 9 as 'key'"),
    (POINTS, ("point", "#", "level"), gone, "has no 'level'"),
    (POINTS, ("point", "#", "level"), put("stopp"), "has 'stopp' as 'level'. Give one of stop, confirm"),
    (PROOF, ("check", "#", "digit"), put("0.01"), "has '0.01' as 'digit'. Give a number above 0"),
    (PROOF, ("check", "#", "of"), put("mean_k"), "has 'mean_k' as 'of'. Give a cell as in example.row"),
    (LISTS, ("lenses",), put(-1), "is no table of entries but -1"),
    (LISTS, ("lenses", "keys"), put("own1"), "has 'own1' as 'keys'. Give a list of keys"),
    (LISTS, ("lenses", "keys"), put(["own1", "own1"]), "has 'own1' twice"),
    (LISTS, ("lenses", "keys", "#"), put(True), "as 'keys'. Give a list of keys"),
    (LISTS, ("lenses", "keys"), gone, "has no 'prefix'"),
    (LISTS, ("lenses", "per"), gone, "has no 'per'"),
    (LISTS, ("lenses",), renamed("eyes"), "is a list that is built in"),
    (CHOICES, ("k_rule",), put(1), "is 1. Give a list of different keys"),
    (CHOICES, ("k_rule", "#"), put([[]]), "Give a list of different keys"),
    (CHANGES, ("version",), gone, "has no 'version'"),
    (CHANGES, ("version",), put("new"), "has 'new' as 'version'. Give a version as in 0.1.0"),
    (CHANGES, ("change",), gone, "has no 'change'"),
    (CHANGES, ("change",), put(""), "has '' as 'change'. Give a list of entries"),
    (CHANGES, ("change", "#"), put([]), "is no table of entries but []"),
    (CHANGES, ("change", "#", "results_change"), put("yes"), "has 'yes' as 'results_change'. Give true or false"),
    (SOURCES, ("source", "#"), put(-1), "is no table of entries but -1"),
    (SOURCES, ("source", "#", "key"), gone, "has no 'key'"),
    (STYLES, ("title",), put(1), "is no table of entries but 1"),
    (STYLES, ("title", "bold"), renamed("boldd"), "has the unknown entry 'boldd'. Remove it; did you mean 'bold'?"),
    (STYLES, ("block", "bg_color"), put("grey"), "has 'grey' as 'bg_color'. Give a colour as in #1F3A5F"),
    (WORDS, ("title",), put(1), "is a table of words and has none"),
    (WORDS, ("title", "checks"), put([1]), "is [1], which is no text"),
    (CONSTANTS, ("constant",), put(1), "is no list of entries"),
    (CONSTANTS, ("constant", "#"), put(0), "is no list of entries"),
    (CONSTANTS, ("constant", "#", "mark"), put(["P"]), "has a mark that is no text"),
    (CONSTANTS, ("constant", "#", "value"), put(NAN), "the value nan, which is no number"),
]


def test_a_chart_may_name_what_can_be_drawn() -> None:
    """The marks and lines that a spec may name are those that the writer draws."""
    assert sorted(MARKERS) == sorted([*charts.SHAPES, *BANDS])
    assert len(BANDS) == len(charts.GREYS)
    assert sorted(LINES) == sorted(charts.LINES)


@pytest.mark.parametrize("number", range(len(MISTAKES)), ids=[f"{f}:{'.'.join(w)}" for f, w, _, _ in MISTAKES])
def test_a_mistake_of_shape_is_told(number: int) -> None:
    """By its file (of the words, where a text is missing), with what is wrong and what to do."""
    file, keys, change, wrong = MISTAKES[number]
    book = REGISTER if file.startswith(REGISTER) else PLAN
    with mistaken(file, first(file, *keys), change), pytest.raises(SpecError) as caught:
        build_model(book, "en", SPECS, 12 if book == REGISTER else None)
    assert wrong in str(caught.value)
    assert caught.value.file in (Path(file).name, WORDS, book)
