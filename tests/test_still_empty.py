"""Before the second person types, the empty readings that can change the plan are named, three at most, once."""

import pytest

from builder.engine.layout import Place
from builder.engine.model import Model
from tests.support.workbooks import by_key, expected, typed_case

SECOND = (
    "again_axial_length",
    "again_acd",
    "again_flat",
    "again_steep",
    "again_steep_axis",
    "again_goal",
    "again_lens",
)

NAMED = 3  # readings that fit in the line at the top of each sheet


def _without(model: Model, name: str, *keys: str) -> dict[Place, object]:
    """A case, of its right eye without some typed cells, and without the second person's."""
    typed = dict(typed_case(name))
    for key in (*SECOND, "checked_code", *keys):
        slot = model.layout.cells("eyes", f"typed_{key}")["right", "right"]
        typed.pop(slot.place, None)
    return typed


@pytest.mark.parametrize(
    ("left_out", "named"),
    [
        (("chamber_depth",), ("ACD",)),
        (("chamber_depth", "zone3_flat", "zone3_steep"), ("ACD", "3 mm")),
    ],
)
def test_what_is_empty_is_named_before_the_second_person(
    model: Model, left_out: tuple[str, ...], named: tuple[str, ...]
) -> None:
    found = expected(model, [_without(model, "ready", *left_out)])[0]
    said = str(by_key(model, found, "type_next"))
    assert all(name in said for name in named), said
    assert model.spec.words.get("word", "still_empty") in said


def test_no_more_than_fit_are_named(model: Model) -> None:
    """A regular eye of which only the needed was typed: those that change most, not all."""
    keys = ("chamber_depth", "back_flat_radius", "back_steep_radius", "total3_steep", "contact_lens", "zone4_steep")
    found = expected(model, [_without(model, "ready", *keys, "refraction_sphere", "biometry_age_months")])[0]
    cells = model.layout.cells("usefuls", "useful_lacks")
    lacking = [key for (side, key), slot in cells.items() if side == "right" and found[slot.place] == 1]
    assert len(lacking) > NAMED
    said = found[model.layout.cells("usefuls", "useful_so_far")["right", "u_age"].place]
    assert len(str(said).split(", ")) == NAMED


def test_once_the_second_person_types_it_is_said_no_more(model: Model) -> None:
    typed = _without(model, "ready", "chamber_depth")
    place = model.layout.cells("eyes", "typed_again_axial_length")["right", "right"].place
    typed[place] = dict(typed_case("ready"))[place]
    found = expected(model, [typed])[0]
    assert model.spec.words.get("word", "still_empty") not in str(by_key(model, found, "type_next"))
