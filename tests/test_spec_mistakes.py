"""A mistake in a spec is told with its file and row, what is wrong and what to do, and nothing is built."""

from pathlib import Path

import pytest

from builder.engine.model import load_model
from builder.engine.spec import SpecError
from builder.engine.values import cell_values
from builder.planner.values import evaluate_cases
from tests.support.planting import FILE, copied_specs, plant, told

INPUT = '\n[[block]]\nkey = "planted_block"\ninstances = "eyes"\ninputs = [\n  {{ key = "planted_row", {} }},\n]\n'

# kind: (the planted row, what the message says); the row's key is planted_row
ROWS = {
    "an unknown name": ('formula = "mean_kk*2"', "names 'mean_kk', which is not known here", "did you mean 'mean_k'?"),
    "a name of no kind": ('formula = "zzzzzz_qqqqqq"', "'zzzzzz_qqqqqq', which is not known", "no known name is close"),
    "a literal number": (
        'formula = "mean_k*1.3375"',
        "holds the number 1.3375",
        "give it a constant with unit and source",
    ),
    "a sentence": ('formula = \'IF(mean_k>0,"steep","")\'', 'holds the text "steep"', "cite a word"),
    "a logical value": ('formula = "IF(mean_k>0,TRUE,0)"', "yields TRUE or FALSE", "use 1 and 0"),
    "a foreign function": ('formula = "IFERROR(mean_k,0)"', "uses the function IFERROR", "portable dialect"),
    "a function newer than 2007": ('formula = "XLOOKUP(mean_k,0,1)"', "uses the function XLOOKUP", "portable dialect"),
    "the judge's function": ('formula = "IF(ISERROR(mean_k),1,0)"', "uses the function ISERROR", "portable dialect"),
    "a negative power": ('formula = "1+2^-mean_k"', "a power of a negative without brackets", "portable dialect"),
    "a typed text compared as it is": (
        'formula = "IF(checked_by=prepared_by,1,0)"',
        "compares the typed text checked_by as it is",
        "Put UPPER( ) round both sides",
    ),
    "a typed text compared with what is found": (
        'formula = "IF(INDEX(lens_name,1,1)=typed_lens_choice,1,0)"',
        "compares the typed text typed_lens_choice as it is",
        "Put UPPER( ) round both sides",
    ),
    "a typed text searched for": (
        'formula = "MATCH(checked_by,fixed.lens_name,0)"',
        "searches for the typed text checked_by as it is",
        "Refuse them in a row of its own",
    ),
    "a text calculated with": (
        'formula = "mean_k+SUM(0)*mean_k_source"',
        "calculates with the text mean_k_source",
        "Calculate with numbers",
    ),
    "a star in what is counted": (
        'formula = "COUNTIF(own_lens_name,word.name_taken)"',
        "which holds a sign that programs take for other letters",
        "Say it without * ? ~",
    ),
    "gaps left to TRIM": (
        'kind = "word", formula = "TRIM(checked_by)"',
        "uses TRIM on a text with gaps",
        "Mend it, in the portable dialect",
    ),
    "an unknown source": ('formula = "mean_k", source = "nobody1999"', "cites the unknown source 'nobody1999'", ""),
    "a source nearly right": (
        'formula = "mean_k", source = "haigis200"',
        "cites the unknown source 'haigis200'",
        "did you mean 'haigis200",
    ),
    "an unknown entry": ('formula = "mean_k", colour = "red"', "has the unknown entry 'colour'", "Remove it"),
    "no formula": ('unit = "D"', "has neither formula nor cells", "Give one of formula"),
    "an unknown instance": ('formulas = { middle = "mean_k" }', "speaks of the unknown instance 'middle'", ""),
    "derived of a cell": ('derived = true, formula = "mean_k"', "is derived and reads cells", "from constants alone"),
    "an instance without formula": ('formulas = { right = "mean_k" }', "has no formula for 'left'", "Give it one"),
    "a formula too long": (
        f'formula = "{"+".join(["mean_k"] * 3000)}"',
        "is too long for the file format",
        "Split the formula",
    ),
    "a bracket left open": ('formula = "(mean_k*2"', "has a bracket that is not closed", "Mend the formula"),
    "a bracket too many": ('formula = "mean_k)*2"', "a bracket or a quote that stands alone", "Mend the formula"),
    "two operators": ('formula = "mean_k+*2"', "has '*' after '+', where a value must stand", "Mend the formula"),
    "a forgotten cell": ("cells = { right = 1 }", "has no formula for 'left'", "or a cell in `cells`"),
    "a whole list": ('formula = "lens_name"', "is the whole list lens_name for 'right'", "Give 'right' a cell"),
    "itself": ('formula = "planted_row+1"', "reads itself: planted_row", "Break the circle"),
}


@pytest.mark.parametrize("kind", ROWS)
def test_a_mistake_in_a_row_is_told(tmp_path: Path, kind: str) -> None:
    """The message names the file, the row's key, what is wrong with it and what to do."""
    row, wrong, todo = ROWS[kind]
    specs = copied_specs(tmp_path)
    plant(specs, f'  {{ key = "planted_row", {row} }},')
    error = told(specs)
    assert (error.file, error.key) == (FILE, "planted_row")
    assert str(error).startswith(f"{FILE}, 'planted_row': ")
    assert wrong in str(error) and todo in str(error)


@pytest.mark.parametrize(
    ("rows", "key", "wrong"),
    [
        ('  { key = "k1", formula = "mean_k" },', "k1", "is not a name"),
        ('  { key = "al24", formula = "mean_k" },', "al24", "is not a name"),
        ('  { key = "power", formula = "mean_k" },', "power", "is not a name"),
        ('  { key = "mean_k", formula = "spread_to_confirm" },', "mean_k", "is named twice"),
        ('  { key = "population_k", formula = "mean_k" },', "population_k", "is named twice"),
        (
            '  { key = "planted_row", formula = "planted_other+1" },\n'
            '  { key = "planted_other", formula = "planted_row-1" },',
            "planted_",
            "reads itself: planted_",
        ),
        ('  { key = "planted_row", echo = "mean_kk" },', "planted_row", "names 'mean_kk'"),
        ('  { use = "no_such_rows" },', "planted_block", "uses the unknown row set 'no_such_rows'"),
    ],
)
def test_a_key_that_cannot_be_is_told(tmp_path: Path, rows: str, key: str, wrong: str) -> None:
    """A key like a cell, a short or taken one, a circle and an echo of nothing are told with file and key."""
    specs = copied_specs(tmp_path)
    plant(specs, rows)
    error = told(specs)
    assert error.file == FILE
    assert error.key.startswith(key)
    assert wrong in str(error)


@pytest.mark.parametrize(
    ("row", "key"),
    [
        ('formula = "IF(mean_k>0,word.no_such_word,\\"\\")"', "word.no_such_word"),
        ('cells = { right = 1, left = 2 }, unit = "parsec"', "unit.parsec"),
    ],
)
def test_missing_words_are_told(tmp_path: Path, row: str, key: str) -> None:
    """A cited word that the words file lacks is told with that file, the key and the table to write it under."""
    specs = copied_specs(tmp_path)
    plant(specs, f'  {{ key = "planted_row", kind = "word", {row} }},')
    error = told(specs)
    assert (error.file, error.key) == ("words.en.toml", key)
    assert f"Write it under [{key.partition('.')[0]}]" in str(error)


def test_a_missing_label_is_told(tmp_path: Path) -> None:
    """A row without a label is told with the words file and the key to write."""
    specs = copied_specs(tmp_path)
    plant(specs, '  { key = "planted_unlabelled", formula = "mean_k" },')
    error = told(specs)
    assert (error.file, error.key) == ("words.en.toml", "label.planted_unlabelled")


@pytest.mark.parametrize(
    ("instances", "key", "wrong"),
    [("eyez", "planted_block", "names the unknown list 'eyez'"), ("eyes", "chosen_lens", "is the key of two blocks")],
)
def test_a_mistake_in_a_block_is_told(tmp_path: Path, instances: str, key: str, wrong: str) -> None:
    """An unknown list and a block's key that is taken are told with file and key."""
    specs = copied_specs(tmp_path)
    plant(specs, '  { key = "planted_row", formula = "1" },', key=key, instances=instances)
    error = told(specs)
    assert (error.file, error.key) == (FILE, key)
    assert wrong in str(error)


@pytest.mark.parametrize(
    ("more", "key", "wrong"),
    [
        (INPUT.format('type = "choice", choices = "k_rul"'), "planted_row", "names the unknown choices 'k_rul'"),
        (INPUT.format('highest = 3, tooltip = "x"'), "planted_row", "has the unknown entry 'tooltip'"),
        (
            INPUT.format('unit = "", lowest = 1, highest = 3, conflict = "planted_row<mean_k"'),
            "planted_row",
            "has a conflict without a conflict_word",
        ),
        (INPUT.format('type = "nummer"'), "planted_row", "has the unknown type 'nummer'. Use one of number, date"),
        (INPUT.format('unit = "", lowest = 3, highest = 1'), "planted_row", "has its lowest 3 above its highest 1"),
        (INPUT.format("lowest = 1, highest = 3"), "planted_row", "is of the type number and has no 'unit'"),
        (INPUT.format('unit = "", lowest = 1'), "planted_row", "has no 'highest'"),
        (INPUT.format('type = "listed"'), "planted_row", "is of the type listed and has no 'list'"),
        (
            INPUT.format('unit = "", lowest = 1, highest = 3, conflict = "(planted_row<mean_k"'),
            "planted_row",
            "has a bracket that is not closed",
        ),
        ('\n[[block]]\nkey = "planted_block"\n', "planted_block", "has no 'instances'"),
        ("\nkey = oops\n", "syntax", ""),
    ],
)
def test_a_mistake_in_an_input_or_line_is_told(tmp_path: Path, more: str, key: str, wrong: str) -> None:
    """Unknown choices or entries, a conflict without words and a line that is no TOML are told with file and key."""
    specs = copied_specs(tmp_path)
    plant(specs, "", more=more)
    error = told(specs)
    assert (error.file, error.key) == (FILE, key)
    assert wrong in str(error)


@pytest.mark.parametrize(
    ("more", "wrong"),
    [
        ("", "'planted_row': has no value in the reference"),
        ("step = true, ", "'planted_row': is a step in eyes and leads to no row that the reference gives"),
    ],
)
def test_a_row_without_a_second_opinion_is_told(tmp_path: Path, more: str, wrong: str) -> None:
    """A row that the reference does not compute fails the build by name, so no cell goes without a stored value.

    Nor may it be called a step where nothing that the reference gives depends on it."""
    specs = copied_specs(tmp_path)
    plant(specs, f'  {{ key = "planted_row", {more}formula = "mean_k*2" }},')
    model = load_model(specs=specs)
    with pytest.raises(SpecError, match=wrong) as caught:
        cell_values(model, evaluate_cases(model, [{}]))
    assert caught.value.file == FILE


def test_a_step_is_read_by_no_program(tmp_path: Path) -> None:
    specs = copied_specs(tmp_path)
    plant(specs, '  { key = "planted_row", step = true, publish = "planted", formula = "mean_k*2" },')
    error = told(specs)
    assert (error.file, error.key) == (FILE, "planted_row")
    assert "is a step, and is read by programs as 'planted'" in str(error)


def test_the_copy_without_mistakes_is_the_same_workbook(tmp_path: Path) -> None:
    """The copied specs build, so what the other tests see comes from the planted mistake alone."""
    assert load_model(specs=copied_specs(tmp_path)).compiled.keys() == load_model().compiled.keys()
