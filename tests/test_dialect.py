"""The portable dialect: each idiom of the workbook's formulas gives the same, expected result in every engine.

A function or idiom enters the workbook only with a trial here. The expected values are plain arithmetic, Python's
`math`, or the documented meaning of the spreadsheet function (ISO/IEC 29500-1, part 18.17.7).
"""

import math
import statistics
from pathlib import Path

import pytest
import xlsxwriter
from xlsxwriter.utility import xl_cell_to_rowcol

from builder.engine.exchange.engines import recalculate
from builder.engine.spec.texts import closed

ERROR, BLANK, DATE = "=1/0", None, 45000

# Typed cells and the results of other formulas that the trials read. A text that starts with "=" is a formula.
COLUMNS = {
    "A": ["none", "soft", "rigid", BLANK, "head", "temporal"],
    "B": [3, '=""', -1.5, BLANK, 2, '=""'],
    "C": ['="none"', '=""', '="rigid"', '="no"', '="yes"', '="yes"'],
    "D": [0, 0, 1, '=""', 1, 0],
    "E": [0, 0, '=""', '=""', '=""', '=""'],
}
ROWS = {"H1": [10, 20, 30, '="rigid"', '=""'], "H2": ["a", "b", "c"]}
LONE = {
    "number": 7.25, "negative": -4, "zero": 0, "huge": 1e300, "word": "word", "rigid": "rigid", "RIGID": "RIGID",
    "none_space": "none ", "space": " ", "number_text": "1.5", "empty_text": '=""', "blank": BLANK, "true": True,
    "date": DATE, "error": ERROR, "not_available": "=NA()", "star": "*", "five_marks": "?????", "r_star": "r*",
    "tilde": "~", "tilde_star": "~*", "rigid_tilde": "rigid~", "less_than": "<none", "apostrophe": "'",
}  # fmt: skip
AT = {name: f"Data!$F${row}" for row, name in enumerate(LONE, 1)}
AT |= {"words": "Data!$A$1:$A$6", "numbers": "Data!$B$1:$B$6", "results": "Data!$C$1:$C$6", "flags": "Data!$D$1:$D$6"}
AT |= {"zeros": "Data!$E$1:$E$6", "across": "Data!$H$1:$L$1", "letters": "Data!$H$2:$J$2"}

JUDGE = (
    '=IF(ISERROR({x}),"error",IF(ISLOGICAL({x}),"logical",IF(ISTEXT({x}),IF(LEN({x})=0,"empty","text"),'
    'IF(ISBLANK({x}),"empty",IF(ISNUMBER({x}),"number","other")))))'
)
LINE_JUDGE = (  # of the lines of a register: a blank has no letters either
    '=IF(ISERROR({x}),"error",IF(ISLOGICAL({x}),"logical",IF(LEN({x})=0,"empty",IF(ISTEXT({x}),"text",'
    'IF(ISNUMBER({x}),"number","other")))))'
)
KINDS = {
    "number": ["number", "negative", "zero", "huge", "date"],
    "text": ["word", "number_text", "space", "star", "tilde", "apostrophe"],
    "empty": ["blank", "empty_text"],
    "logical": ["true"],
    "error": ["error", "not_available"],
}
# MATCH alone takes "*" and "r*" for a word of the list; the comparison after it does not, in no engine.
IN_LIST = (
    "=IF("
    + JUDGE[1:]
    + '<>"text",0,IF(ISNUMBER(MATCH({x},{list},0)),IF(INDEX({list},MATCH({x},{list},0),1)={x},1,0),0))'
)


def _nested(depth: int) -> str:
    text = '"last"'
    for step in range(depth):
        text = f'IF({{number}}={step},"{step}",{text})'
    return "=" + text


TRIALS: list[tuple[str, float | str | None]] = [
    (judge.replace("{x}", AT[name]), kind)
    for judge in (JUDGE, LINE_JUDGE)
    for kind, names in KINDS.items()
    for name in names
]
TRIALS += [
    (IN_LIST.replace("{x}", AT[name]).replace("{list}", AT[words]), int(name in ("rigid", "RIGID")))
    for words in ("words", "results")
    for name in LONE
]
TRIALS += [  # texts: equality ignores case and takes no wildcards; a blank and an empty text both equal ""
    ('=IF({RIGID}="rigid",1,0)', 1), ('=IF({rigid}="RIGID",1,0)', 1), ('=IF({word}="rigid",1,0)', 0),
    ('=IF({star}="rigid",1,0)', 0), ('=IF({number}="rigid",1,0)', 0), ('=IF({blank}="rigid",1,0)', 0),
    ('=IF({blank}="",1,0)', 1), ('=IF({empty_text}="",1,0)', 1), ('=IF({number}="",1,0)', 0),
    ('=IF({zero}="",1,0)', 0), ('=IF({rigid}<>"",1,0)', 1), ('=IF({number_text}=1.5,1,0)', 0),
    ("=LEN({negative})", 2), ("=LEN({number})", 4), ("=LEN({blank})", 0), ("=LEN({empty_text})", 0),
    ("=LEN({word})", 4), ('=LEN("–°✓")', 3), ("=UPPER({rigid})", "RIGID"),
    ("=LEFT({word},2)", "wo"), ("=LEFT({rigid},5)", "rigid"), ('=LEFT({rigid}&"",9)', "rigid"),
    ('=LEFT({blank}&"",4)', None),
    ('=LEFT({number}&"",1)', "7"), ('=UPPER(LEFT({rigid}&"",3))', "RIG"),
    ('={rigid}&" – "&INDEX({words},1,1)&{empty_text}&{blank}', "rigid – none"), ('="a"&{empty_text}&"b"', "ab"),
    ('="▲ "&INDEX({results},1,1)&"° ✓ ●"', "▲ none° ✓ ●"), ('="say ""yes"" now"', 'say "yes" now'),
    ('=COUNT({numbers})&" of 11 typed"', "3 of 11 typed"), ("={blank}&\"\"", None), ("={empty_text}", None),
    ('=TRIM(" A. Tester ")', "A. Tester"), ("=TRIM({none_space})", "none"), ("=LEN(TRIM({space}))", 0),
    ("=TRIM({blank})", None), ("=TRIM({empty_text})", None), ("=TRIM({rigid})", "rigid"),
    *((closed(f'"{" " * gap}A.{" " * gap}B.{" " * (gap % 3)}"').join(("=", "")), "A. B.") for gap in (1, 2, 7, 41, 90)),
    (f"=LEN({closed('{space}')})", 0), (f"={closed('{blank}')}", None), (f"={closed('{rigid}')}", "rigid"),
    ('=SUBSTITUTE(SUBSTITUTE(SUBSTITUTE("a*b?c~","*",""),"?",""),"~","")', "abc"),
    ('=LEN(SUBSTITUTE({star},"*",""))', 0), ('=LEN(SUBSTITUTE({rigid},"*",""))', 5),
    ('=UPPER(SUBSTITUTE(" J.  Doe "," ",""))', "J.DOE"), ('=SUBSTITUTE({blank}," ","")', None),
    ('=IF(UPPER({number}&"")="7.25",1,0)', 1), ('=UPPER(INDEX({words},3,1))', "RIGID"),
    ('=FIXED(ROUND(ROUND(7.256,8),2),2,TRUE)&"°"', "7.26°"), ('=FIXED({zero},0,TRUE)', "0"),
]  # fmt: skip
TRIALS += [  # guards: COUNT of results (never of typed cells: a text "1.5" and TRUE count in one engine each)
    ('=IF(COUNT({number},{negative})=2,{number}+{negative},"")', 3.25),
    ('=IF(COUNT({number},{empty_text})=2,{number}+{empty_text},"")', None),
    ('=IF(COUNT({number},{blank})=2,{number}*{blank},"")', None),
    ("=COUNT({word},{empty_text},{blank})", 0), ("=COUNT({error},{number})", 1), ("=COUNT({numbers},{flags})", 8),
    ("=IF(AND(LEN({rigid})>0,COUNT({number},{zero})=2),1,0)", 1),
    ("=IF(AND(LEN({empty_text})>0,COUNT({number})=1),1,0)", 0), ("=IF(AND(LEN({blank})>0,COUNT({number})=1),1,0)", 0),
    ("=IF(COUNT(INDEX({numbers},2,1))=1,1,0)", 0), ("=IF(COUNT(INDEX({numbers},4,1))=1,1,0)", 0),
    ('=IF(OR(Data!C5="yes",Data!C4="yes"),1,0)', 1),
    ("=IF(NOT({number}>0),1,0)", 0), ("=IF(ISNUMBER({error}),1,0)", 0), ("=IF(ISTEXT({error}),1,0)", 0),
    ("=IF(ISBLANK({empty_text}),1,0)", 0), ('=IF(ISBLANK({blank}),"",{blank})', None), (_nested(10), "last"),
]  # fmt: skip
TRIALS += [  # a branch that is not taken never spoils the result
    (text.replace("BAD", bad), expected)
    for text, expected in (("=IF({number}>0,5,BAD)", 5), ('=IF({number}<0,BAD,"fine")', "fine"))
    for bad in (
        "SQRT({negative})", "1/{zero}", "1+{empty_text}", "{word}*2", "LN({zero})", "LN({negative})", "1+{error}",
        'MATCH("absent",{words},0)', "INDEX({words},9,1)", "INDEX({numbers},MATCH(99,{numbers},0),1)",
        "ATAN2({zero},{zero})", "NORMSINV({zero})",
    )
]  # fmt: skip
TRIALS += [  # lists: always INDEX(range, row, column); a blank cell taken from a list is 0, an empty text stays empty
    ("=INDEX({numbers},2,1)", None), ("=INDEX({numbers},3,1)", -1.5), ("=INDEX({results},2,1)", None),
    ("=INDEX({results},3,1)", "rigid"), ("=INDEX({numbers},4,1)", 0), ("={blank}", 0),
    ('=IF(LEN(INDEX({words},4,1))=0,"",INDEX({words},4,1))', None),
    ("=INDEX({across},1,2)", 20), ("=INDEX({across},1,4)", "rigid"), ("=INDEX({across},1,5)", None),
    ("=INDEX({letters},1,MATCH(20,{across},0))", "b"), ('=MATCH("rigid",{across},0)', 4),
    ("=MATCH(2,{numbers},0)", 5), ("=MATCH(-1.5,{numbers},0)", 3), ("=MATCH(1,{flags},0)", 3),
    ("=IF(ISNUMBER(MATCH(9,{numbers},0)),1,0)", 0), ("=IF(ISNUMBER(MATCH(0,{numbers},0)),1,0)", 0),
    ("=IF(ISNUMBER(MATCH(1,{zeros},0)),1,0)", 0), ('=MATCH("yes",{results},0)', 5), ('=MATCH("YES",{results},0)', 5),
    ("=INDEX({results},MATCH(1,{flags},0),1)", "rigid"), ('=CHOOSE(2,"a","b","c")', "b"),
    ("=CHOOSE(1,{empty_text},{number})", None), ('=CHOOSE(MATCH("soft",{words},0),1/0,5,1/0)', 5),
    ('=COUNTIF({results},"yes")', 2), ('=COUNTIF({results},"YES")', 2), ('=COUNTIF({results},"ye")', 0),
    ('=COUNTIF({across},"rigid")', 1), ("=COUNTIF({results},{rigid})", 1), ("=COUNTIF({flags},1)", 2),
    ('=COUNTIF({flags},0)', 3), ('=SUMIF({results},"yes",{flags})', 1), ("=COUNTBLANK({numbers})", 3),
]  # fmt: skip
TRIALS += [  # numbers; empty texts and blanks inside MAX, MIN, SUM are passed over, and none at all gives 0
    ("=MAX({numbers})", 3), ("=MIN({numbers})", -1.5), ("=SUM({numbers})", 3.5), ("=SUM({words})", 0),
    ("=AVERAGE({numbers})", 3.5 / 3), ("=MEDIAN({numbers})", 2), ("=MAX({empty_text},{number})", 7.25),
    ("=MIN({empty_text},{number})", 7.25), ("=SUM({empty_text},{number})", 7.25), ("=MAX({empty_text},{negative})", -4),
    ("=MAX({numbers},{number})", 7.25), ("=MAX({empty_text})", 0), ("=MAX(Data!$E$3:$E$6)", 0),
    ("=SUM(Data!$E$3:$E$6)", 0), ("=LARGE({numbers},1)", 3), ("=LARGE({numbers},2)", 2), ("=SMALL({numbers},1)", -1.5),
    ("=SMALL({numbers},3)", 3), ("=LARGE(Data!$H$1:$J$1,2)", 20), ("=RANK(Data!$B$5,{numbers})", 2),
    ("=SUMPRODUCT({numbers},{flags})", 0.5), ("=SUMPRODUCT({numbers},{numbers})", 15.25),
    ("=SUMPRODUCT(Data!$H$1:$J$1,Data!$H$1:$J$1)", 1400), ("=SQRT(MAX(0,{negative}))", 0),
    ("=SQRT(MAX(0,{number}))", math.sqrt(7.25)), ("=ATAN2(1,1)", math.pi / 4), ("=ATAN2(-1,{zero})", math.pi),
    ("=ATAN2(-3,{negative})", math.atan2(-4, -3)), ("=ATAN2({zero},2)", math.pi / 2), ("=-{negative}", 4),
    ("=MOD(ROUND(-1E-14,6),180)", 0), ("=MOD(ROUND(-30.1234567,6),180)", 149.876543),
    ("=MOD(ROUND(179.9999999,6),180)", 0), ("=MOD(ROUND(540,6),180)", 0), ("=(2^3)^2", 64), ("=(-2)^2", 4),
    ("=SIGN({negative})", -1), ("=ABS({negative})", 4), ("=EXP(LN({number}))", 7.25), ("=PI()", math.pi),
    ("=DEGREES(1)", math.degrees(1)), ("=RADIANS(90)", math.pi / 2), ("=TAN(1)", math.tan(1)),
    ("=ATAN(2)", math.atan(2)), ("=ASIN(0.5)", math.asin(0.5)), ("=ACOS(0.5)", math.acos(0.5)),
]  # fmt: skip
THERE = (3, -1.5, 2)  # the numbers of the list of numbers
TRIALS += [  # statistics of a list with gaps; a search for a number passes empty texts over
    ("=STDEV({numbers})", statistics.stdev(THERE)), ("=VAR({numbers})", statistics.variance(THERE)),
    ("=COVAR({numbers},{numbers})", statistics.pvariance(THERE)), ("=SUMSQ({numbers})", 15.25),
    ("=SUMIF({flags},1,{numbers})", 0.5), ("=SUMIF({flags},0,{numbers})", 3), ("=SUMIF({zeros},7,{numbers})", 0),
    ("=COUNTIF({numbers},2)", 1), ("=COUNTIF({numbers},100*0+2)", 1), ("=COUNTIF({results},2)", 0),
    ("=COUNTBLANK({across})", 1), ('=COUNTIF({across},"rigi")', 0),
]  # fmt: skip
TRIALS += [(f"=NORMSDIST({x})", math.erfc(-x / math.sqrt(2)) / 2) for x in (0, 1, -1.96, 2.5, -4, 6, -0.333)]
# Steps downwards and upwards. ROUND comes first: INT(0.3/0.1) is 2 in one engine and 3 in two.
STEPS = [2.3, -2.3, 2, -2, 0, 0.5, -0.5, 20.3 / 0.5, 0.3 / 0.1, 20.5 / 0.5]
TRIALS += [(f"=INT(ROUND({x!r},6))", math.floor(round(x, 6))) for x in STEPS]
TRIALS += [(f"=-INT(-ROUND({x!r},6))", math.ceil(round(x, 6))) for x in STEPS]
TRIALS += [(f"=ROUNDDOWN(ROUND({x!r},6),0)", math.trunc(round(x, 6))) for x in STEPS]
TRIALS += [(f"=ROUNDUP(ROUND({x!r},6),0)", math.copysign(math.ceil(abs(round(x, 6))), x)) for x in STEPS]


@pytest.fixture(scope="module")
def trial_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One sheet of data, one with a trial in each row."""
    path = tmp_path_factory.mktemp("dialect") / "trials.xlsx"
    with xlsxwriter.Workbook(str(path)) as book:
        trials, data = book.add_worksheet("Trials"), book.add_worksheet("Data")
        formats = book.add_format({"locked": False}), book.add_format({"locked": False, "num_format": "yyyy-mm-dd"})
        cells = {f"{letter}{row}": value for letter, column in COLUMNS.items() for row, value in enumerate(column, 1)}
        cells |= {f"F{row}": value for row, value in enumerate(LONE.values(), 1)}
        for start, values in ROWS.items():
            cells |= {f"{chr(ord(start[0]) + step)}{start[1]}": value for step, value in enumerate(values)}
        for address, value in cells.items():
            style = formats[value == DATE]
            if value is BLANK:
                data.write_blank(address, None, style)
            elif isinstance(value, bool):
                data.write_boolean(address, value, style)
            elif isinstance(value, str) and value.startswith("="):
                data.write_formula(address, value, style, value="")
            elif isinstance(value, str):
                data.write_string(*xl_cell_to_rowcol(address), value, style)
            else:
                data.write_number(address, value, style)
        for row, (text, _) in enumerate(TRIALS):
            trials.write_formula(row, 0, text.format_map(AT), None, "not recalculated")
    return path


def same_as_expected(expected: float | str | None, found: object) -> bool:
    if isinstance(found, float) and isinstance(expected, int | float):
        return math.isclose(expected, found, rel_tol=1e-9, abs_tol=1e-9)
    return type(expected) is type(found) and expected == found


def test_each_idiom_gives_the_expected_result(trial_book: Path, engine: str) -> None:
    values = recalculate([trial_book], engine)[0]
    found = [values["Trials", f"A{row}"] for row in range(1, len(TRIALS) + 1)]
    wrong = [
        f"{text}: {result!r} instead of {expected!r}"
        for (text, expected), result in zip(TRIALS, found, strict=True)
        if not same_as_expected(expected, result)
    ]
    assert not wrong, "\n".join(wrong)
