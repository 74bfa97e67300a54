"""Whether a formula with names is a sentence at all: brackets in pairs, operands and operators in turn, arguments."""

from __future__ import annotations

from functools import lru_cache

from openpyxl.formula.tokenizer import Token, TokenizerError

from builder.engine.spec.errors import SpecError
from builder.engine.spec.tokens import parts

# How many arguments a function takes; those that take any number are not here.
ARGUMENTS = {
    0: ("PI",),
    1: (
        *("ABS", "SIGN", "SQRT", "EXP", "LN", "SIN", "COS", "TAN", "ATAN", "RADIANS", "DEGREES", "NOT", "UPPER", "LEN"),
        *("TRIM", "ISNUMBER", "ISTEXT", "ISBLANK", "ISERROR", "ISLOGICAL", "COUNTBLANK", "NORMSDIST", "NORMSINV"),
    ),
    2: (
        "ATAN2",
        "LEFT",
        "MOD",
        "ROUND",
        "COUNTIF",
        "SMALL",
        "LARGE",
        "RANK",
        "PERCENTILE",
        "COVAR",
        "SUMPRODUCT",
        "TINV",
    ),
    3: ("IF", "INDEX", "MATCH", "FIXED", "SUMIF", "AVERAGEIF", "FINV"),
}
TAKES = {name: count for count, names in ARGUMENTS.items() for name in names}
BEFORE_A_SIGN = ("", "(", ",", "=", "<", ">", "<=", ">=", "<>")  # what a minus may follow that is no subtraction


class _Call:
    """An open bracket: the function's name ("" for a plain bracket) and how many of its arguments are there."""

    def __init__(self, name: str) -> None:
        self.name, self.arguments = name, 0


def demand_formula(file: str, key: str, *formulas: str | None) -> None:
    """Raises SpecError for the first text that is no formula, as it stands in the spec."""
    for formula in formulas:
        wrong = broken(formula) if formula else ""
        if wrong:
            raise SpecError(file, key, f"{wrong}, in {formula}", "Mend the formula there")


@lru_cache(maxsize=1 << 14)  # asked as the spec is read, and again of the formula that the builder makes of it
def broken(formula: str) -> str:
    """The first thing that makes a text no formula, in words; "" when it is one."""
    try:
        tokens = parts(formula)
    except TokenizerError:
        return "has a bracket or a quote that stands alone"
    calls: list[_Call] = []
    wanted, last = True, ""  # whether an operand must come next; the mark before it
    for token in tokens:
        value, kind = token.value, (token.type, token.subtype)
        if token.type == Token.WSPACE:
            continue
        opens = kind in ((Token.FUNC, Token.OPEN), (Token.PAREN, Token.OPEN))
        if token.type == Token.OPERAND or opens:
            if not wanted:
                return f"has no operator or comma before {value!r}"
            if opens:
                calls.append(_Call(value.rstrip("(").upper()))
            wanted, last = opens, "(" if opens else value
        elif token.type in (Token.FUNC, Token.PAREN):
            fault = _closed(calls, wanted and last != "(", last == "(")
            if fault:
                return fault
            wanted, last = False, ")"
        elif token.type == Token.SEP or value == ",":
            if not calls or not calls[-1].name:
                return f"has {value!r} outside the brackets of a function"
            if wanted:
                return f"has {value!r} after {last!r}, where a value must stand"
            calls[-1].arguments += 1
            wanted, last = True, ","
        elif _may_stand(token, wanted, last):
            wanted, last = True, value
        elif not (token.type == Token.OP_PRE and last == "^"):  # that one is told as a power of a negative
            return f"has {value!r} after {last!r}, where a value must stand" if last else f"begins with {value!r}"
    if calls:
        return f"has a bracket that is not closed, after {calls[-1].name or 'a plain bracket'}"
    return f"ends after {last!r}, where a value must stand" if wanted else ""


def _may_stand(operator: Token, wanted: bool, last: str) -> bool:
    """Whether an operator may stand here: between two operands, or as the sign of one."""
    if operator.type == Token.OP_PRE:
        return operator.value == "-" and last in BEFORE_A_SIGN
    return operator.type == Token.OP_IN and bool(operator.value.strip()) and not wanted


def _closed(calls: list[_Call], hanging: bool, empty: bool) -> str:
    """Closes the innermost bracket; says in words what is wrong with what stood in it."""
    if not calls:
        return "has a bracket that is closed but not opened"
    call = calls.pop()
    if hanging or (empty and not call.name):
        return "has a closing bracket where a value must stand"
    count = 0 if empty else call.arguments + 1
    wanted = TAKES.get(call.name, max(count, 1))
    if count != wanted:
        return f"gives {call.name} {count} arguments, but it takes {wanted}"
    return ""
