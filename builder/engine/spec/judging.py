"""The formulas that judge a typed cell: its state in words, what is used of it, where a search finds it."""

from __future__ import annotations

from builder.engine.spec.model import Input
from builder.engine.spec.texts import closed

LOOKED_UP = ("choice", "listed")


def _limit(item: Input, end: str) -> str:
    value = getattr(item, end)
    return value if isinstance(value, str) else f"{end}_{item.key}"


def _inside(item: Input, typed: str, low: str, high: str, slack: str) -> str:
    """Whether a number is within its limits: with slack, for programs round what they compare, but not with 0."""
    below, above = ("" if end == 0 else slack for end in (item.lowest, item.highest))
    return f"AND({typed}>={low}{below and '-' + below},{typed}<={high}{above and '+' + above})"


def judge_formula(item: Input, typed: str, empty: str, slack: str) -> str:
    """The judge of design: error, logical, text, blank, number, in this order, the same in every engine."""
    text, number = "word.text_value", "word.number_value"
    if item.type in ("number", "date"):
        low, high = _limit(item, "lowest"), _limit(item, "highest")
        inside, used = _inside(item, typed, low, high, slack), "word.used"
        if item.type == "date":  # a number that is not inside may be too large to be rounded
            used = f"IF({typed}=ROUND({typed},0),word.used,word.out_of_limits)"
        outside = f"outside_{item.key}" if item.thousandths else "word.out_of_limits"
        number = f"IF({inside},{used},{outside})"
        if item.awaits:
            number = f"IF(COUNT({','.join(item.awaits)})<{len(item.awaits)},word.waits_for_unit,{number})"
    elif item.type in LOOKED_UP:  # a search may take * and ? for any letters: what it found is compared
        text = f"IF(UPPER(INDEX({item.list},1,MAX(place_{item.key},1)))=UPPER({typed}),word.used,word.unlisted)"
    else:
        inside = f"LEN({typed})<=highest_{item.key}"
        text = f"IF(LEN(TRIM({typed}))=0,word.only_spaces,IF({inside},word.used,word.too_long))"
        if item.type == "identifier":
            inside = f"AND({typed}=ROUND({typed},0),{typed}>0,{typed}<1000*1000*1000)"
            number = f"IF({inside},word.used,word.number_value)"
    judged = f"IF(LEN({typed})=0,{empty},IF(ISTEXT({typed}),{text},{number}))"
    return f"IF(ISERROR({typed}),word.error_value,IF(ISLOGICAL({typed}),word.logical_value,{judged}))"


def outside_formula(item: Input, typed: str, slack: str) -> str:
    """What is said of a number out of limits: it may be in thousandths of the unit, as some devices print."""
    low, high = (f"1000*{_limit(item, end)}" for end in ("lowest", "highest"))
    inside = _inside(item, typed, low, high, slack)
    said = f'IF(ISNUMBER({typed}),IF({inside},word.{item.thousandths},word.out_of_limits),"")'
    return f'IF(ISLOGICAL({typed}),"",IF(ISTEXT({typed}),"",{said}))'  # both may be numbers to a program


def place_formula(item: Input, typed: str) -> str:
    """Where a search finds what is typed in the list of the choices, counted from 1; 0: nowhere."""
    found = f"MATCH({typed},{item.list},0)"
    return f"IF(ISTEXT({typed}),IF(ISNUMBER({found}),SIGN(LEN({typed}))*{found},0),0)"


def used_formula(item: Input, typed: str, empty: str) -> str:
    """What is used of a typed cell: its value, the word of the list that it means, or the default `empty`."""
    value = f"state_{item.key}"
    if item.type in LOOKED_UP:
        shown = f"INDEX({item.list},1,place_{item.key})"
    elif item.type in ("text", "name"):
        shown = closed(typed)
    else:
        shown = typed
    default = f'IF({value}=word.default_used,{empty},"")' if empty else '""'
    return f"IF({value}=word.used,{shown},{default})"
