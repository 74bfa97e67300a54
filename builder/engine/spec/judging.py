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
        inside = _inside(item, typed, low, high, slack)
        if item.type == "date":  # a whole number; one that is too large to be rounded is not asked for it
            inside = f"{typed}=ROUND(MAX({low},MIN({high},{typed})),0)"
        outside = f"outside_{item.key}" if item.thousandths else "word.out_of_limits"
        number = f"IF({inside},word.used,{outside})"
        if item.awaits:
            number = f"IF(COUNT({','.join(item.awaits)})<{len(item.awaits)},word.waits_for_unit,number_{item.key})"
    elif item.type in LOOKED_UP:  # a search may take * and ? for any letters: what it found is compared
        text = f"IF(UPPER(INDEX({item.list},1,MAX(place_{item.key},1)))=UPPER({typed}),word.used,word.unlisted)"
    else:
        inside = f"LEN({typed})<=highest_{item.key}"
        text = f"IF(LEN(TRIM({typed}))=0,word.only_spaces,IF({inside},word.used,word.too_long))"
        if item.type == "identifier":
            number = f"number_{item.key}"
    judged = f"IF(LEN({typed})=0,{empty},IF(ISTEXT({typed}),{text},{number}))"
    return f"IF(ISERROR({typed}),word.error_value,IF(ISLOGICAL({typed}),word.logical_value,{judged}))"


def outside_formula(item: Input, typed: str, slack: str) -> str:
    """What is said of a number out of limits: it may be in thousandths of the unit, as some devices print."""
    low, high = (f"1000*{_limit(item, end)}" for end in ("lowest", "highest"))
    inside = _inside(item, typed, low, high, slack)
    return _of_number(typed, f"IF({inside},word.{item.thousandths},word.out_of_limits)")


def number_formula(item: Input, typed: str, slack: str) -> str:
    """What is said of a number that is a name, or whose limits may not be there yet: MAX takes such a one for 0."""
    if item.type == "identifier":
        whole = f"AND({typed}=ROUND({typed},0),{typed}>0,{typed}<1000*1000*1000)"
        return _of_number(typed, f"IF({whole},word.used,word.number_value)")
    low, high = (
        f"MAX({limit})" if limit in item.awaits else limit
        for limit in (_limit(item, "lowest"), _limit(item, "highest"))
    )
    return _of_number(typed, f"IF({_inside(item, typed, low, high, slack)},word.used,word.out_of_limits)")


def _of_number(typed: str, said: str) -> str:
    """Nothing is said of a logical value or a text, which may be numbers to a program."""
    return f'IF(ISLOGICAL({typed}),"",IF(ISTEXT({typed}),"",IF(ISNUMBER({typed}),{said},"")))'


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
