"""What a person could be shown in place of what was verified: each deceit with what would be seen, by editing XML."""

from __future__ import annotations

import re
from collections.abc import Callable

from tests.support.plants import BOOK, STYLES, Copy, sheet_of

Edit = Callable[[Copy], object]
SEEN: dict[str, tuple[str, Edit]] = {}  # name -> what a person would see, and the change
_TEXT_BOX = (
    "<xdr:twoCellAnchor><xdr:from><xdr:col>1</xdr:col><xdr:colOff>0</xdr:colOff><xdr:row>14</xdr:row>"
    "<xdr:rowOff>0</xdr:rowOff></xdr:from><xdr:to><xdr:col>2</xdr:col><xdr:colOff>0</xdr:colOff><xdr:row>16</xdr:row>"
    '<xdr:rowOff>0</xdr:rowOff></xdr:to><xdr:sp macro="" textlink=""><xdr:nvSpPr><xdr:cNvPr id="9" name="Box"/>'
    "<xdr:cNvSpPr/></xdr:nvSpPr><xdr:spPr/><xdr:txBody><a:bodyPr/><a:p><a:r><a:t>25.50</a:t></a:r></a:p></xdr:txBody>"
    "</xdr:sp><xdr:clientData/></xdr:twoCellAnchor>"
)
DRAWINGS = "xl/drawings/drawing{}.xml"


def _on(sheet: str, pattern: str, new: str, count: int = 1) -> Edit:
    """An edit of a sheet's XML."""
    return lambda copy: copy.sub(copy.part(sheet_of(copy, sheet)), pattern, new, count)


def _in(part: str, pattern: str, new: str | Callable[[re.Match[str]], str], count: int = 1) -> Edit:
    """An edit of another part."""
    return lambda copy: copy.sub(part, pattern, new, count)


def dial(copy: Copy, eye: str = "right") -> str:
    """The part of the chart with the dial of an eye."""
    title = sheet_of(copy, f"theatre_{eye}")
    rels = f"xl/worksheets/_rels/{copy.part(title).rpartition('/')[2]}.rels"
    drawing = re.search(r"drawing\d+\.xml", copy.parts[rels].decode())[0]  # type: ignore[index]
    chart = re.search(r"chart\d+\.xml", copy.parts[f"xl/drawings/_rels/{drawing}.rels"].decode())
    assert chart
    return f"xl/charts/{chart[0]}"


def _drawing(copy: Copy, eye: str = "right") -> str:
    title = sheet_of(copy, f"theatre_{eye}")
    rels = f"xl/worksheets/_rels/{copy.part(title).rpartition('/')[2]}.rels"
    return "xl/drawings/" + re.search(r"drawing\d+\.xml", copy.parts[rels].decode())[0]  # type: ignore[index]


def _dial(pattern: str, new: str | Callable[[re.Match[str]], str], count: int = 1) -> Edit:
    return lambda copy: copy.sub(dial(copy), pattern, new, count)


def _framed(pattern: str, new: str) -> Edit:
    return lambda copy: copy.sub(_drawing(copy), pattern, new)


def _format(code: str, key: str = "lens_power", typed: bool = False) -> Edit:
    def change(copy: Copy) -> None:
        place = copy.place("eyes", "typed_axial_length" if typed else key, "right")
        copy.restyle(place, copy.number_format(code))

    return change


def _font(xml: str) -> Edit:
    return lambda copy: copy.restyle(copy.place("eyes", "lens_power", "right"), copy.font(xml))


def _fill(xml: str) -> Edit:
    def change(copy: Copy) -> None:
        copy.swap(STYLES, "</fills>", f"<fill>{xml}</fill></fills>")
        number = copy.parts[STYLES].decode().partition("</fills>")[0].count("<fill>") - 1
        edit = lambda xf: re.sub(r'fillId="\d+"', f'fillId="{number}"', xf)  # noqa: E731
        copy.restyle(copy.place("eyes", "lens_power", "right"), edit)

    return change


def _aligned(attributes: str) -> Edit:
    def edit(xf: str) -> str:
        return re.sub(r"<alignment[^>]*/>", "", xf).replace("</xf>", f"<alignment {attributes}/></xf>")

    return lambda copy: copy.restyle(copy.place("eyes", "lens_power", "right"), edit)


def _exchanged_eyes(copy: Copy) -> None:
    right, left = dial(copy), dial(copy, "left")
    copy.parts[right], copy.parts[left] = copy.parts[left], copy.parts[right]


def _exchanged_words(one: str, other: str) -> Edit:
    def change(copy: Copy) -> None:
        text = copy.parts[dial(copy)].decode()
        assert one in text and other in text
        swapped = text.replace(one, "\0").replace(other, one).replace("\0", other)
        copy.parts[dial(copy)] = swapped.encode()

    return change


def _mirrored(copy: Copy) -> None:
    """x and y of every series of the dial exchanged."""
    text = copy.parts[dial(copy)].decode()
    text = text.replace("c:xVal", "c:zVal").replace("c:yVal", "c:xVal").replace("c:zVal", "c:yVal")
    copy.parts[dial(copy)] = text.encode()


def _runs(copy: Copy) -> None:
    """Letters of a caution in the colour of the paper."""
    texts = copy.parts["xl/sharedStrings.xml"].decode()
    label = re.search(r"<si><t>(Not a medical device)</t></si>", texts)
    assert label
    white = '<rPr><color rgb="FFFFFFFF"/></rPr>'
    runs = f'<si><r>{white}<t>Not</t></r><r><t xml:space="preserve"> a medical device</t></r></si>'
    copy.parts["xl/sharedStrings.xml"] = texts.replace(label[0], runs, 1).encode()


def _many_areas(copy: Copy) -> None:
    """One rule that names as many cells as would take minutes to compare."""
    areas = " ".join(f"A{n * 50 + 1}:CV{n * 50 + 50}" for n in range(400))
    rule = f'<dataValidations count="1"><dataValidation type="custom" sqref="{areas}"><formula1>A1&gt;B1</formula1>'
    copy.swap(
        copy.part(sheet_of(copy, "cornea")), "<pageMargins", rule + "</dataValidation></dataValidations><pageMargins"
    )


SEEN |= {
    "a text box over the power": ("25.50 in place of the power", _framed("</xdr:wsDr>", _TEXT_BOX + "</xdr:wsDr>")),
    "no usual height of lines": (
        "lines of another height, the dial beside other numbers",
        _on("theatre_right", r'<sheetFormatPr defaultRowHeight="15"/>', ""),
    ),
    "the dial moved over the numbers": ("the dial hides the numbers", _framed("<xdr:col>3<", "<xdr:col>0<")),
    "the dial made small": (
        "marks that cannot be told apart",
        _framed('cx="3695700" cy="3695700"', 'cx="95700" cy="95700"'),
    ),
    "the dial stretched": ("an ellipse with other angles", _framed('cy="3695700"', 'cy="1695700"')),
    "the dial turned": ("every mark a quarter turn on", _framed("<xdr:xfrm>", '<xdr:xfrm rot="5400000">')),
    "the dial mirrored as a picture": ("nasal marks temporal", _framed("<xdr:xfrm>", '<xdr:xfrm flipH="1">')),
    "the dials of the eyes exchanged": ("the other eye's marks", _exchanged_eyes),
    "x and y exchanged": ("a mirrored lens bar", _mirrored),
    "nasal and temporal exchanged": ("the other side", _exchanged_words("NASAL", "TEMPORAL")),
    "degrees of the dial exchanged": ("30 where 150 stands", _exchanged_words("<a:t>30<", "<a:t>150<")),
    "marks made invisible": ("no lens marks", _dial('<c:symbol val="(?!none)[a-z]+"/>', '<c:symbol val="none"/>')),
    "a line made invisible": (
        "no lens bar",
        _dial('<a:ln w="[0-9]+"><a:solidFill>.*?</a:solidFill>', "<a:ln><a:noFill/>"),
    ),
    "lines in the colour of paper": ("no lens bar", _dial('srgbClr val="000000"', 'srgbClr val="FFFFFF"', 2)),
    "a line a hair wide": ("no lens bar on paper", _dial('<a:ln w="[0-9]+"', '<a:ln w="1"')),
    "a dial upside down": ("90 where 270 stands", _dial('orientation val="minMax"', 'orientation val="maxMin"')),
    "another end of an axis": ("marks beside the dial", _dial('<c:max val="1.4"/>', '<c:max val="9"/>')),
    "a logarithmic axis": ("marks at other places", _dial("<c:scaling>", '<c:scaling><c:logBase val="10"/>')),
    "stored points of a chart forged": (
        "marks at other places in a preview",
        _dial("<c:v>0.9</c:v>", "<c:v>-0.9</c:v>"),
    ),
    "a second series over the first": ("two lens bars", _dial("(<c:ser>.*?</c:ser>)", r"\1\1")),
    "a series taken away": ("no lens bar", _dial("<c:ser>.*?</c:ser>", "")),
    "a trend line": (
        "a line nobody drew",
        _dial("<c:xVal>", '<c:trendline><c:trendlineType val="linear"/></c:trendline><c:xVal>'),
    ),
    "bars of error": ("lines nobody drew", _dial("<c:xVal>", "<c:errBars/><c:xVal>")),
    "one point drawn otherwise": (
        "one mark without ink",
        _dial("<c:xVal>", '<c:dPt><c:idx val="0"/><c:spPr><a:ln><a:noFill/></a:ln></c:spPr></c:dPt><c:xVal>'),
    ),
    "a decoy of x": ("another lens bar", _dial("<c:xVal>", "<z:xVal xmlns:z='urn:x'/><c:xVal>")),
    "a drawing over a chart": (
        "words over the dial",
        _dial("</c:chartSpace>", '<c:userShapes r:id="rId9"/></c:chartSpace>'),
    ),
    "black ground of a chart": (
        "black on black",
        _dial("</c:chart><c:spPr>", '</c:chart><c:spPr><a:solidFill><a:srgbClr val="000000"/></a:solidFill>'),
    ),
    "a point for a decimal sign": ("0.09 for 8.50", _format(r"0\.00")),
    "a digit that fills the cell": ("1113 for 113", _format("*10")),
    "a digit before the number": ("124.61 for 24.61", _format('"1"0.00')),
    "a digit before a typed number": ("124.61 for 24.61", _format('"1"0.00', typed=True)),
    "a typed number without decimals": ("25 for 24.61", _format("0", typed=True)),
    "a number in thousands": ("0.02 for 20", _format("0.00,")),
    "a number in hundredths": ("2000% for 20", _format("0.00%")),
    "a number as a date": ("1900-01-20 for 20", _format("yyyy-mm-dd")),
    "a minus without its sign": ("1.25 for -1.25", _format("0.00;0.00")),
    "a plus for a minus": ("+1.25 for -1.25", _format("-0.00;+0.00")),
    "a condition in a format": ("another number above 10", _format('[>10]"8.50";0.00')),
    "digits of another script": ("digits few can read", _format("[$-2000000]0.00")),
    "a number as a fraction": ("20 1/2 for 20.5", _format("# ?/?")),
    "a font of signs": ("signs for digits", _font('<sz val="10"/><name val="Symbol"/>')),
    "a set of signs": ("signs for digits", _font('<sz val="10"/><name val="Arial"/><charset val="2"/>')),
    "digits struck through": ("a power struck out", _font('<strike/><sz val="10"/><name val="Arial"/>')),
    "digits below the line": ("a small power", _font('<vertAlign val="subscript"/><sz val="10"/><name val="Arial"/>')),
    "type of 5 points": ("what few can read", _font('<sz val="5"/><name val="Arial"/>')),
    "a ground of stripes": ("stripes over the power", _fill('<patternFill patternType="darkGrid"/>')),
    "a ground that fades": ("a power that fades", _fill('<gradientFill><stop position="0"/></gradientFill>')),
    "a ground nearly black": (
        "black on black",
        _fill('<patternFill patternType="solid"><fgColor rgb="FF0A0A0A"/></patternFill>'),
    ),
    "a ground by an own list of colours": (
        "black on black",
        lambda copy: (
            copy.sub(
                STYLES,
                "</styleSheet>",
                '<colors><indexedColors><rgbColor rgb="00000000"/></indexedColors></colors></styleSheet>',
            ),
            _fill('<patternFill patternType="solid"><fgColor indexed="0"/></patternFill>')(copy),
        ),
    ),
    "a text turned": ("digits on their head", _aligned('textRotation="180"')),
    "a text shrunk": ("a small power", _aligned('shrinkToFit="1"')),
    "a number far to the right": ("a power beside another name", _aligned('horizontal="left" indent="30"')),
    "a text from right to left": ("another order of signs", _aligned('readingOrder="2"')),
    "letters of a caution in white": ("a medical device", _runs),
    "locks void in an area": (
        "formulas that can be typed over",
        _on(
            "cornea",
            "<pageMargins",
            '<protectedRanges><protectedRange name="a" sqref="A1:Z99"/></protectedRanges><pageMargins',
        ),
    ),
    "a scenario": (
        "other readings on a click",
        _on("readings", "<pageMargins", '<scenarios><scenario name="a"/></scenarios><pageMargins'),
    ),
    "a changed prompt": ("what to type is another", _on("choices", ' error="[^"]*"', ' error="Anything will do."')),
    "a prompt added": (
        "what to type is another",
        _on("readings", "<dataValidation ", '<dataValidation prompt="Type 23.1" '),
    ),
    "a list not shown": (
        "no words to choose",
        _on("choices", '<dataValidation type="list"', '<dataValidation type="list" showDropDown="1"'),
    ),
    "two rules for one cell": (
        "limits nobody set",
        _on(
            "readings",
            "(<dataValidation .*?</dataValidation>)",
            r'\1<dataValidation type="whole" sqref="B7"><formula1>1</formula1><formula2>2</formula2></dataValidation>',
        ),
    ),
    "a low line": ("no axis", _on("theatre_right", r'<row r="15"[^>]*>', '<row r="15" ht="5" customHeight="1">')),
    "a narrow column": (
        "### for the power",
        _on("theatre_right", r'<col min="2" max="2" width="[^"]*"', '<col min="2" max="2" width="4"'),
    ),
    "a column as wide as a page": (
        "one eye out of sight",
        _on("cornea", r'(<col min="1" max="1") width="[^"]*"', r'\1 width="250"'),
    ),
    "a print scale of 10": (
        "a page nobody can read",
        lambda copy: (
            _on("cornea", '<pageSetUpPr fitToPage="1"/>', "")(copy),
            _on("cornea", "<pageSetup ", '<pageSetup scale="10" ')(copy),
        ),
    ),
    "another first page": (
        "a page without its edition",
        _on("theatre_right", "<headerFooter>", '<headerFooter differentFirst="1">'),
    ),
    "errors shown as blanks": (
        "nothing where an error stands",
        _on("theatre_right", "<pageSetup ", '<pageSetup errors="blank" '),
    ),
    "a draft without pictures": ("no dial on paper", _on("theatre_right", "<pageSetup ", '<pageSetup draft="1" ')),
    "a wide margin": ("half a page", _on("theatre_right", '<pageMargins left="[^"]*"', '<pageMargins left="5"')),
    "a page break in the numbers": (
        "power and axis on two pages",
        _on(
            "theatre_right", "<drawing ", '<rowBreaks count="1"><brk id="15" max="16383" man="1"/></rowBreaks><drawing '
        ),
    ),
    "white words at the foot": ("no edition on paper", _on("theatre_right", "<oddFooter>", "<oddFooter>&amp;KFFFFFF")),
    "right to left": ("the left eye on the right", _on("readings", "<sheetView ", '<sheetView rightToLeft="1" ')),
    "panes that hide lines": ("lines out of reach", _on("theatre_right", 'ySplit="2"', 'ySplit="9"')),
    "a start below the first line": (
        "heads out of reach",
        _on("theatre_right", "<sheetView ", '<sheetView topLeftCell="A9" '),
    ),
    "no heads of lines": ("cells nobody can name", _on("readings", "<sheetView ", '<sheetView showRowColHeaders="0" ')),
    "a view of one's own": ("lines hidden in it", _on("readings", "<pageMargins", "<customSheetViews/><pageMargins")),
    "a ground picture": ("numbers in a picture", _on("readings", "</worksheet>", '<picture r:id="rId1"/></worksheet>')),
    "small charts in cells": (
        "lines in cells",
        _on(
            "readings",
            "</worksheet>",
            '<extLst><ext uri="x"><x14:sparklineGroups xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main"/></ext></extLst></worksheet>',
        ),
    ),
    "formulas of an older program": ("another sum", _on("cornea", "<sheetPr>", '<sheetPr transitionEvaluation="1">')),
    "something unknown on a sheet": (
        "what only one program shows",
        _on("readings", "</worksheet>", "<webPublishItems/></worksheet>"),
    ),
    "pictures not shown": ("no dial", _in(BOOK, "<workbookPr ", '<workbookPr showObjects="none" ')),
    "no tabs": ("no way to the cautions", _in(BOOK, "<workbookView ", '<workbookView showSheetTabs="0" ')),
    "views of the book": ("sheets hidden in them", _in(BOOK, "<definedNames>", "<customWorkbookViews/><definedNames>")),
    "a rule that names too many cells": ("a program that hangs", _many_areas),
    "a look of a condition changed": (
        "a warning that looks like none",
        _in(STYLES, "<dxf>.*?</dxf>", '<dxf><font><color rgb="FF00FF00"/></font></dxf>'),
    ),
    "conditions taken away": (
        "no colours on the map",
        _on("map", "<conditionalFormatting .*</conditionalFormatting>", ""),
    ),
    "a dial said to be no chart": ("no dial", _framed('drawingml/2006/chart"', 'drawingml/2006/1hart"')),
    "a high line": (
        "what follows is on another page",
        _on("theatre_right", r'<row r="15"[^>]*>', '<row r="15" ht="105" customHeight="1">'),
    ),
    "a line of no width": ("no lens bar on paper", _dial('<a:ln w="[0-9]+"', "<a:ln")),
    "a line without its colour": (
        "no lens bar",
        _dial('(<a:ln w="[0-9]+"><a:solidFill>).*?(</a:solidFill>)', r"\1\2"),
    ),
    "a sheet in another version of the language": (
        "no sheet at all",
        _on("theatre_right", 'xml version="1.0"', 'xml version="C3"'),
    ),
}
