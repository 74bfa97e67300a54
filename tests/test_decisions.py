"""Rows that choose: what they become in cells, what follows from their parts, and which mistakes are told."""

from pathlib import Path
from typing import Any

import pytest

from builder.engine.layout import Place, Slot
from builder.engine.model import Model, load_model
from builder.engine.shown import followed
from builder.engine.spec import SpecError
from builder.engine.spec.decisions import read_decision
from tests.support.planting import copied_specs, plant

FOUR = [["flag_a", "value_a"], ["b_limit>2", "value_b"], ["flag_c", "value_c"], "word.ready"]
WRITTEN: dict[str, tuple[dict[str, Any], str]] = {
    "shown": ({"shown": "mean_k", "when": "flag_a"}, 'IF(flag_a=1,mean_k,"")'),
    "shown or else": ({"shown": "x_y", "when": "flag_a", "otherwise": "word.ready"}, "IF(flag_a=1,x_y,word.ready)"),
    "two cases": (
        {"first_of": [["flag_a", "value_a"], ["b_limit>2", "value_b"]]},
        'IF(flag_a=1,value_a,IF(b_limit>2,value_b,""))',
    ),
    "many cases": (
        {"first_of": FOUR},
        "CHOOSE(MIN(IF(flag_a=1,1,4),IF(b_limit>2,2,4),IF(flag_c=1,3,4)),value_a,value_b,value_c,word.ready)",
    ),
    "by place": ({"picked": "lens_name", "at": "place_a"}, 'IF(COUNT(place_a)=1,INDEX(lens_name,place_a,1),"")'),
    "by flags": (
        {"picked": "says_x", "by": "flag_x", "otherwise": "word.ready"},
        "IF(COUNTIF(flag_x,1)>0,INDEX(says_x,MATCH(1,flag_x,0),1),word.ready)",
    ),
}


@pytest.mark.parametrize("kind", WRITTEN)
def test_a_choice_becomes_a_flat_formula(kind: str) -> None:
    entry, formula = WRITTEN[kind]
    decision = read_decision("some.toml", {"key": "planted_row", **entry})
    assert decision is not None
    assert decision.formula() == formula


MISTAKEN: dict[str, dict[str, Any]] = {
    "shown without its flag": {"shown": "mean_k"},
    "a flag of nothing": {"when": "flag_a"},
    "two kinds": {"shown": "mean_k", "when": "flag_a", "picked": "lens_name", "at": "place_a"},
    "picked by both": {"picked": "lens_name", "at": "place_a", "by": "flag_x"},
    "a formula beside it": {"shown": "mean_k", "when": "flag_a", "formula": "mean_k"},
    "otherwise said twice": {"first_of": FOUR, "otherwise": "word.ready"},
}


@pytest.mark.parametrize("kind", MISTAKEN)
def test_words_that_do_not_go_together_are_told(kind: str) -> None:
    with pytest.raises(SpecError, match="do not make one choice"):
        read_decision("some.toml", {"key": "planted_row", **MISTAKEN[kind]})


def test_only_a_choice_of_plain_names_follows() -> None:
    """A condition, or arithmetic in a value, is somebody's decision, of which the reference has its own opinion."""
    named = read_decision("f", {"key": "planted_row", "first_of": [["flag_a", "value_a"], "word.ready"]})
    told = read_decision("f", {"key": "planted_row", "first_of": FOUR})
    summed = read_decision("f", {"key": "planted_row", "shown": "mean_k+1", "when": "flag_a"})
    assert [d.follows for d in (named, told, summed) if d] == [True, False, False]


# The row, its formula in cells, and what it shows while eye_used is 1, 0 and empty, mean_k being 44 and released 0.
PLANTED: dict[str, tuple[str, str, tuple[Any, Any, Any]]] = {
    "shown": ('shown = "mean_k", when = "eye_used"', 'IF({eye_used}=1,{mean_k},"")', (44.0, None, None)),
    "shown or else": (
        'shown = "mean_k", when = "eye_used", otherwise = "rounding_slack"',
        "IF({eye_used}=1,{mean_k},{rounding_slack})",
        (44.0, 1e-9, 1e-9),
    ),
    "first of": (
        'kind = "word", first_of = [["released", "word.gap"], ["eye_used", "word.colon"], "word.space"]',
        'IF({released}=1,"     ",IF({eye_used}=1,": "," "))',
        (": ", " ", " "),
    ),
    "first of many": (
        'first_of = [["released", "mean_k"], ["released", "mean_k"], ["eye_used", "released"]]',
        'CHOOSE(MIN(IF({released}=1,1,4),IF({released}=1,2,4),IF({eye_used}=1,3,4)),{mean_k},{mean_k},{released},"")',
        (0.0, None, None),
    ),
    "needed": (
        'needs = ["eye_used"], shown = "mean_k", when = "released", otherwise = "word.gap", kind = "word"',
        'IF(COUNT({eye_used})=1,IF({released}=1,{mean_k},"     "),"")',
        ("     ", "     ", None),
    ),
}


@pytest.fixture(scope="module")
def planted(tmp_path_factory: pytest.TempPathFactory) -> Model:
    """The workbook with a row of each kind."""
    specs = copied_specs(tmp_path_factory.mktemp("planted"))
    rows = [
        f'  {{ key = "planted_row{n}", label = "planted_row", {row} }},' for n, (row, *_) in enumerate(PLANTED.values())
    ]
    plant(specs, "\n".join(rows))
    return load_model(specs=specs)


@pytest.mark.parametrize("kind", PLANTED)
def test_a_planted_choice_in_cells_and_what_follows(planted: Model, kind: str) -> None:
    """Worked by hand from the meaning of each kind."""
    _, written, wanted = PLANTED[kind]

    def slot(key: str) -> Slot:
        return planted.layout.cells("eyes", key)["right", "right"]

    row = slot(f"planted_row{list(PLANTED).index(kind)}")
    names = ("eye_used", "released", "mean_k")
    cells = {key: f"{planted.spec.sheet_title(slot(key).place.sheet)}!{slot(key).place.address}" for key in names}
    cells = {key: f"'{cell.replace('!', chr(39) + '!')}" if " " in cell else cell for key, cell in cells.items()}
    cells["rounding_slack"] = f"Constants!{planted.constants['rounding_slack'].address}"
    assert planted.compiled[row.place].formula == written.format(**cells)
    given: dict[Place, Any] = {slot("mean_k").place: 44.0, slot("released").place: 0.0}
    shown = [followed(planted, given | {slot("eye_used").place: used}, [row])[row.place] for used in (1.0, 0.0, None)]
    assert tuple(shown) == wanted


def test_what_is_picked_is_found_in_a_line_and_in_a_column(tmp_path: Path) -> None:
    """The lenses lie in a line, the reasons in a column."""
    specs = copied_specs(tmp_path)
    plant(
        specs,
        '  { key = "planted_row", kind = "word", picked = "lens_name", at = "eye_used" },\n'
        '  { key = "planted_other", kind = "word", picked = "point_sentence", by = "point_live" },',
    )
    model = load_model(specs=specs)
    across, down = (model.layout.cells("eyes", key)["right", "right"] for key in ("planted_row", "planted_other"))
    first, last = (list(model.layout.cells("lenses", "lens_name").values())[at].place.address for at in (0, -1))
    assert f"INDEX(Lenses!{first}:{last},1,'Open items'!" in model.compiled[across.place].formula
    lower = model.compiled[down.place].formula
    assert ",MATCH(1,'Open items'!" in lower and ",0),1)" in lower
    points = list(model.layout.cells("points", "point_live").items())
    sentences = model.layout.cells("points", "point_sentence")
    of_right = [(slot, sentences[at]) for at, slot in points if at[0] == "right"]
    given = {flag.place: 1.0 if n in (3, 5) else 0.0 for n, (flag, _) in enumerate(of_right)}
    given |= {words.place: f"sentence {n}" for n, (_, words) in enumerate(of_right)}
    assert followed(model, given, [down])[down.place] == "sentence 3"
    own = model.layout.cells("lenses", "lens_name")["", "own2"].place
    used = model.layout.cells("eyes", "eye_used")["right", "right"].place
    shown = [followed(model, {used: place, own: "Own"}, [across])[across.place] for place in (6.0, 1.0, None)]
    assert shown == ["Own", lens_of(model, "example1"), None]


def lens_of(model: Model, example: str) -> str:
    """The name of an example lens, as the words file has it."""
    return str(model.spec.words.get("word", f"lens_{example}"))
