"""Whether a text is a formula at all: brackets in pairs, operands and operators in turn, arguments counted."""

import pytest

from builder.engine.formula.dialect import faults

# What a spreadsheet program refuses, or reads as something else than was meant: its grammar is that of
# ISO/IEC 29500-1, part 18.17.2, its functions' arguments those of part 18.17.7.
NO_FORMULAS = {
    "mean_k*(ring_flat+1": "bracket that is not closed",
    "IF(mean_k>0,1,0": "bracket that is not closed, after IF",
    "mean_k)": "stands alone",
    "IF(mean_k>0,1,(ring_flat)": "bracket that is not closed, after IF",
    "(IF(mean_k>0,1,0)))": "stands alone",
    "IF(mean_k>0,1),0)": "stands alone",
    'IF(mean_k>0,"",0)&"': "stands alone",
    "mean_k+*ring_flat": "'*' after '+'",
    "mean_k*/ring_flat": "'/' after '*'",
    "mean_k++ring_flat": "'+' after '+'",
    "mean_k--ring_flat": "'-' after '-'",
    "mean_k+": "ends after '+'",
    "*mean_k": "begins with '*'",
    "mean_k ring_flat": "no operator or comma before 'ring_flat'",
    "mean_k(ring_flat)": "uses the function MEAN_K",
    "2(ring_flat)": "uses the function 2",
    "(mean_k)(ring_flat)": "no operator or comma before '('",
    "()": "closing bracket where a value must stand",
    "mean_k*()": "closing bracket where a value must stand",
    "SUM(mean_k,)": "closing bracket where a value must stand",
    "SUM(,mean_k)": "',' after '('",
    "SUM(mean_k,,ring_flat)": "',' after ','",
    "mean_k,ring_flat": "',' outside the brackets of a function",
    "SUM((mean_k,ring_flat))": "',' outside the brackets of a function",
    "IF(mean_k>0 1,0)": "no operator or comma before '1'",
    "IF(mean_k>0,1)": "gives IF 2 arguments, but it takes 3",
    "ATAN2(mean_k+ring_flat)": "gives ATAN2 1 arguments, but it takes 2",
    "SUM()": "gives SUM 0 arguments",
    "MATCH(mean_k,all.ring_flat,1)": "searches by MATCH without a last 0",
    'IF(lens_name=" ",1,0)': 'holds the text " "',
    "TRIM(lens_name)": "uses TRIM on a text with gaps",
    "mean_k%": "'%' after 'mean_k'",
    "": "ends",
}


@pytest.mark.parametrize("formula", NO_FORMULAS)
def test_what_is_no_formula_is_refused(formula: str) -> None:
    """Brackets in pairs, operands and operators in turn, arguments apart; the fault says where it stands."""
    found = faults(formula)
    assert len(found) >= 1
    assert NO_FORMULAS[formula] in found[0]


FORMULAS = (
    "-mean_k", "IF(-mean_k>-1,-1,1)", "(mean_k+1)*(-1)", "PI()*mean_k", "((mean_k))",
    "IF(AND(mean_k>0,OR(mean_k<1,ring_flat<>0)),SUM(mean_k),\"\")", "mean_k + ring_flat", "ROUND(mean_k,6)",
)  # fmt: skip


@pytest.mark.parametrize("formula", FORMULAS)
def test_what_is_a_formula_passes(formula: str) -> None:
    """Signs, spaces, empty brackets of a function without arguments and brackets in brackets are no faults."""
    assert faults(formula) == []
