"""The table of planted changes around the cells: lines, sheets, locks, names, how the workbook calculates."""

from __future__ import annotations

from tests.support.plants import BOOK, Copy, Spot, plant, sheet_of

_PRINT = r"(<definedName name=\"_xlnm.Print_Area\" localSheetId=\"0\">[^<]*\$)\d+(</definedName>)"
_SPACE = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def _line(copy: Copy, attributes: str) -> Spot:
    copy.sub(copy.part(sheet_of(copy, "cornea")), r'<row r="15"[^>]*>', f'<row r="15" {attributes}>')
    return sheet_of(copy, "cornea"), "15"


@plant("line_hidden")
def a_hidden_line(copy: Copy) -> Spot:
    return _line(copy, 'hidden="1"')


@plant("line_hidden")
def a_line_of_no_height(copy: Copy) -> Spot:
    return _line(copy, 'ht="0.75" customHeight="1"')


@plant("line_hidden")
def lines_hidden_by_default(copy: Copy) -> Spot:
    copy.swap(copy.part(sheet_of(copy, "cornea")), "<sheetFormatPr ", '<sheetFormatPr zeroHeight="1" ')
    return sheet_of(copy, "cornea"), "*"


@plant("column_hidden")
def a_hidden_column(copy: Copy) -> Spot:
    copy.sub(copy.part(sheet_of(copy, "cornea")), r'<col min="2"', '<col hidden="1" min="2"')
    return sheet_of(copy, "cornea"), "B"


@plant("column_hidden")
def a_column_of_no_width(copy: Copy) -> Spot:
    copy.sub(copy.part(sheet_of(copy, "cornea")), r'(<col min="2" max="\d+") width="[^"]*"', r'\1 width="0.1"')
    return sheet_of(copy, "cornea"), "B"


@plant("sheet_hidden")
def a_hidden_sheet(copy: Copy) -> Spot:
    copy.sub(BOOK, f'<sheet name="{sheet_of(copy, "constants")}"', r'\g<0> state="hidden"')
    return sheet_of(copy, "constants"), ""


@plant("sheet_hidden")
def a_very_hidden_sheet(copy: Copy) -> Spot:
    copy.sub(BOOK, f'<sheet name="{sheet_of(copy, "constants")}"', r'\g<0> state="veryHidden"')
    return sheet_of(copy, "constants"), ""


@plant("sheet_missing")
def a_missing_sheet(copy: Copy) -> Spot:
    last = len(copy.sheet_names) - 1
    copy.sub(BOOK, f'<definedName name="[^"]*" localSheetId="{last}">[^<]*</definedName>', "", count=0)
    copy.sub(BOOK, f'<sheet name="{copy.sheet_names[last]}"[^>]*>', "")
    return copy.sheet_names[last], ""


@plant("sheet_extra")
def a_sheet_more(copy: Copy) -> Spot:
    copy.parts["xl/worksheets/sheet99.xml"] = b'<worksheet xmlns="%s"><sheetData/></worksheet>' % _SPACE
    kind = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet"
    relation = f'<Relationship Id="rId990" Type="{kind}" Target="worksheets/sheet99.xml"/></Relationships>'
    copy.swap("xl/_rels/workbook.xml.rels", "</Relationships>", relation)
    content = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"
    override = f'<Override PartName="/xl/worksheets/sheet99.xml" ContentType="{content}"/></Types>'
    copy.swap("[Content_Types].xml", "</Types>", override)
    copy.swap(BOOK, "</sheets>", '<sheet name="More" sheetId="99" r:id="rId990"/></sheets>')
    return "More", ""


@plant("protection")
def a_sheet_unprotected(copy: Copy) -> Spot:
    copy.sub(copy.part(sheet_of(copy, "cornea")), "<sheetProtection[^>]*/>", "")
    return sheet_of(copy, "cornea"), ""


@plant("protection")
def a_protection_that_allows_more(copy: Copy) -> Spot:
    copy.swap(
        copy.part(sheet_of(copy, "cornea")), "<sheetProtection ", '<sheetProtection formatCells="0" deleteRows="0" '
    )
    return sheet_of(copy, "cornea"), ""


@plant("name")
def a_defined_name(copy: Copy) -> Spot:
    copy.swap(BOOK, "<definedNames>", '<definedNames><definedName name="factor">1.02</definedName>')
    return "", ""


@plant("name")
def a_hidden_name_of_a_sheet(copy: Copy) -> Spot:
    name = '<definedNames><definedName name="factor" localSheetId="0" hidden="1">1.02</definedName>'
    copy.swap(BOOK, "<definedNames>", name)
    return copy.sheet_names[0], ""


@plant("print")
def less_printed(copy: Copy) -> Spot:
    copy.sub(BOOK, _PRINT, r"\g<1>9\2")
    return copy.sheet_names[0], ""


@plant("merged")
def merged_cells(copy: Copy) -> Spot:
    merged = '</sheetData><mergeCells count="1"><mergeCell ref="A15:B15"/></mergeCells>'
    copy.swap(copy.part(sheet_of(copy, "cornea")), "</sheetData>", merged)
    return sheet_of(copy, "cornea"), "A15:B15"


@plant("calculation")
def calculation_by_hand(copy: Copy) -> Spot:
    copy.swap(BOOK, "<calcPr ", '<calcPr calcMode="manual" ')
    return "", ""


@plant("calculation")
def precision_as_shown(copy: Copy) -> Spot:
    copy.swap(BOOK, "<calcPr ", '<calcPr fullPrecision="0" ')
    return "", ""


@plant("calculation")
def days_from_1904(copy: Copy) -> Spot:
    copy.swap(BOOK, "<workbookPr ", '<workbookPr date1904="1" ')
    return "", ""


@plant("zeros_hidden")
def zeros_not_shown(copy: Copy) -> Spot:
    copy.swap(copy.part(sheet_of(copy, "cornea")), "<sheetView ", '<sheetView showZeros="0" ')
    return sheet_of(copy, "cornea"), ""


@plant("page")
def another_edition_at_the_foot(copy: Copy) -> Spot:
    copy.sub(copy.part(sheet_of(copy, "cornea")), f"(<oddFooter>[^<]*){copy.model.edition}", r"\g<1>9.9.9-00000000")
    return sheet_of(copy, "cornea"), ""


@plant("link")
def a_link_to_another_sheet(copy: Copy) -> Spot:
    part = copy.part(copy.sheet_names[0])
    copy.sub(part, r'(<hyperlink ref="[A-Z]+\d+" location=")[^"]*', r"\1'Changes'!A1")
    return copy.sheet_names[0], "*"


@plant("added")
def a_filter(copy: Copy) -> Spot:
    copy.swap(copy.part(sheet_of(copy, "cornea")), "</sheetData>", '</sheetData><autoFilter ref="A5:C20"/>')
    return sheet_of(copy, "cornea"), ""


@plant("picture")
def a_picture_of_other_cells(copy: Copy) -> Spot:
    copy.sub("xl/charts/chart1.xml", r"(<c:yVal>.*?<c:f>[^<]*\$)\d+(:[^<]*</c:f>)", r"\g<1>1\2")
    return sheet_of(copy, "pictures"), ""


@plant("picture")
def a_mirrored_picture(copy: Copy) -> Spot:
    copy.sub("xl/charts/chart1.xml", 'orientation val="minMax"', 'orientation val="maxMin"')
    return sheet_of(copy, "pictures"), ""


@plant("picture")
def a_picture_of_fixed_numbers(copy: Copy) -> Spot:
    copy.sub("xl/charts/chart1.xml", r"<c:yVal>.*?</c:yVal>", "<c:yVal><c:numLit/></c:yVal>")
    return sheet_of(copy, "pictures"), ""
