"""The table of planted changes in cells: what they hold, how they look, which results are stored."""

from __future__ import annotations

import re

from tests.support.plants import Copy, Spot, plant, protection, sheet_of


@plant("formula")
def one_sign_of_a_formula(copy: Copy) -> Spot:
    place = copy.place("eyes", "lens_power", "right")
    copy.formula(place, lambda formula: formula.replace("+", "-", 1))
    return place


@plant("formula")
def one_cell_of_a_formula(copy: Copy) -> Spot:
    place = copy.place("eyes", "total_cylinder", "left")
    copy.formula(place, lambda formula: re.sub(r"(?<=SQRT\(C)\d+", lambda m: str(int(m[0]) + 1), formula, count=1))
    return place


@plant("formula")
def a_value_over_a_formula(copy: Copy) -> Spot:
    place = copy.place("eyes", "mean_k", "right")
    copy.holds(place, 44.0)
    return place


@plant("formula")
def a_formula_emptied(copy: Copy) -> Spot:
    place = copy.place("eyes", "mean_k", "left")
    copy.cell(place, lambda cell: re.sub(r">.*", "/>", cell, flags=re.DOTALL))
    return place


@plant("formula")
def a_formula_over_several_cells(copy: Copy) -> Spot:
    place = copy.place("eyes", "mean_k", "right")
    copy.cell(place, lambda cell: cell.replace("<f>", f'<f t="array" ref="{place[1]}">'))
    return place


@plant("formula")
def a_word_in_a_formula(copy: Copy) -> Spot:
    place = copy.place("eyes", "step_seat", "right")
    copy.formula(place, lambda formula: formula.replace('"seen from the head"', '"seen from the back"'))
    return place


@plant("constant")
def a_constant_of_medicine(copy: Copy) -> Spot:
    place = copy.constant("index_aqueous")
    copy.holds(place, 1.3361)
    return place


@plant("constant")
def a_constant_made_a_formula(copy: Copy) -> Spot:
    place = copy.constant("index_aqueous")
    copy.cell(place, lambda cell: cell.replace("<v>", "<f>1.336</f><v>"))
    return place


@plant("constant")
def a_limit(copy: Copy) -> Spot:
    place = copy.place("plan", "lowest_axial_length")
    copy.holds(place, 5.0)
    return place


@plant("label")
def a_label(copy: Copy) -> Spot:
    place = sheet_of(copy, "cornea"), "A1"
    copy.holds(place, "Retina")
    return place


@plant("extra")
def a_word_in_an_empty_cell(copy: Copy) -> Spot:
    place = sheet_of(copy, "readings"), "C3"
    copy.holds(place, "ready")
    return place


@plant("extra")
def a_value_outside_the_layout(copy: Copy) -> Spot:
    copy.add(sheet_of(copy, "cornea"), "ZZ9999", "<v>44</v>")
    return sheet_of(copy, "cornea"), "ZZ9999"


@plant("extra")
def a_formula_outside_the_layout(copy: Copy) -> Spot:
    copy.add(sheet_of(copy, "cornea"), "ZZ9999", "<f>1+1</f><v>2</v>")
    return sheet_of(copy, "cornea"), "ZZ9999"


@plant("twice")
def a_second_copy_of_a_cell(copy: Copy) -> Spot:
    place = copy.place("eyes", "mean_k", "right")
    copy.cell(place, lambda cell: cell + cell)
    return place


@plant("input_formula")
def a_formula_in_an_input(copy: Copy) -> Spot:
    place = copy.place("eyes", "typed_axial_length", "right")
    copy.cell(place, lambda cell: cell.replace("<v>", "<f>23+1</f><v>"))
    return place


@plant("lock")
def the_lock_of_a_formula(copy: Copy) -> Spot:
    place = copy.place("eyes", "mean_k", "right")
    copy.restyle(place, protection('locked="0"'))
    return place


@plant("lock")
def the_lock_of_a_constant(copy: Copy) -> Spot:
    place = copy.constant("index_aqueous")
    copy.restyle(place, protection('locked="0"'))
    return place


@plant("lock")
def an_input_locked_by_a_paste(copy: Copy) -> Spot:
    place = copy.place("eyes", "typed_axial_length", "right")
    copy.restyle(place, protection('locked="1"'))
    return place


@plant("lock")
def a_whole_column_unlocked(copy: Copy) -> Spot:
    unlocked = re.search(r'<c r="B6" s="(\d+)"', copy.parts[copy.part(sheet_of(copy, "readings"))].decode())
    assert unlocked
    copy.sub(copy.part(sheet_of(copy, "cornea")), r'<col min="2"', f'<col style="{unlocked[1]}" min="2"')
    return sheet_of(copy, "cornea"), "B"


@plant("lock")
def an_unlocked_cell_outside_the_layout(copy: Copy) -> Spot:
    unlocked = re.search(r'<c r="B6" s="(\d+)"', copy.parts[copy.part(sheet_of(copy, "readings"))].decode())
    assert unlocked
    copy.add(sheet_of(copy, "cornea"), "ZZ9999", "", f' s="{unlocked[1]}"')
    return sheet_of(copy, "cornea"), "ZZ9999"


@plant("formula_hidden")
def a_hidden_formula(copy: Copy) -> Spot:
    place = copy.place("eyes", "mean_k", "right")
    copy.restyle(place, protection('locked="1" hidden="1"'))
    return place


@plant("number_format")
def a_format_that_shows_nothing(copy: Copy) -> Spot:
    place = copy.place("eyes", "mean_k", "right")
    copy.restyle(place, copy.number_format(";;;"))
    return place


@plant("number_format")
def a_format_that_shows_another_number(copy: Copy) -> Spot:
    place = copy.place("eyes", "typed_axial_length", "left")
    copy.restyle(place, copy.number_format('"23.10"'))
    return place


@plant("number_format")
def a_format_that_drops_decimals(copy: Copy) -> Spot:
    place = copy.place("eyes", "lens_power", "left")
    copy.restyle(place, copy.number_format("0"))
    return place


@plant("unreadable")
def white_on_white(copy: Copy) -> Spot:
    place = copy.place("eyes", "mean_k", "right")
    copy.restyle(place, copy.font('<sz val="10"/><color rgb="FFFEFEFE"/><name val="Arial"/>'))
    return place


@plant("unreadable")
def white_by_the_theme(copy: Copy) -> Spot:
    place = copy.place("eyes", "mean_k", "right")
    copy.restyle(place, copy.font('<sz val="10"/><color theme="0" tint="-0.02"/><name val="Arial"/>'))
    return place


@plant("unreadable")
def type_too_small_to_read(copy: Copy) -> Spot:
    place = copy.place("eyes", "mean_k", "right")
    copy.restyle(place, copy.font('<sz val="1"/><name val="Arial"/>'))
    return place


@plant("result")
def a_stored_result(copy: Copy) -> Spot:
    place = copy.place("eyes", "lens_power", "right")
    copy.cell(place, lambda cell: re.sub(r"<v>.*</v>", "<v>31</v>", cell))
    return place


@plant("result")
def an_input_typed_without_recalculation(copy: Copy) -> Spot:
    copy.holds(copy.place("eyes", "typed_axial_length", "right"), 24.9)
    return copy.place("eyes", "lens_power", "right")


@plant("result")
def results_thrown_away(copy: Copy) -> Spot:
    for title in copy.sheet_names:
        part = copy.part(title)
        copy.parts[part] = re.sub(rb"(</f>)<v>[^<]*</v>", rb"\1", copy.parts[part])
    return "", ""
