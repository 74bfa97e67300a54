"""The table of planted changes in what a cell accepts and in formats that depend on a condition."""

from __future__ import annotations

import re

from tests.support.plants import STYLES, Copy, Spot, plant, sheet_of

_VALIDATION = r'<dataValidation [^>]*sqref="{}"[^>]*>.*?</dataValidation>'


def _condition(copy: Copy, rule: str, look: str) -> Spot:
    dxfs = re.search(r"<dxfs[^>]*>(.*?)</dxfs>", copy.parts[STYLES].decode(), re.DOTALL)
    number = dxfs[1].count("<dxf>") if dxfs else 0
    copy.swap(STYLES, "</dxfs>", f"<dxf>{look}</dxf></dxfs>")
    xml = f'<conditionalFormatting sqref="B15"><cfRule priority="99" dxfId="{number}" {rule}</conditionalFormatting>'
    copy.swap(copy.part(sheet_of(copy, "cornea")), "<pageMargins", xml + "<pageMargins")
    return sheet_of(copy, "cornea"), "B15"


@plant("conditional")
def a_condition_that_hides_by_colour(copy: Copy) -> Spot:
    rule = 'type="cellIs" operator="greaterThan"><formula>0</formula></cfRule>'
    return _condition(copy, rule, '<font><color rgb="FFFFFFFF"/></font>')


@plant("conditional")
def a_condition_that_hides_by_format(copy: Copy) -> Spot:
    rule = 'type="expression"><formula>TRUE</formula></cfRule>'
    return _condition(copy, rule, '<numFmt numFmtId="998" formatCode=";;;"/>')


@plant("conditional")
def a_condition_that_only_colours(copy: Copy) -> Spot:
    rule = 'type="expression"><formula>B15&gt;0</formula></cfRule>'
    return _condition(copy, rule, '<fill><patternFill><bgColor rgb="FF00FF00"/></patternFill></fill>')


@plant("conditional")
def a_condition_in_the_formats_extension(copy: Copy) -> Spot:
    xml = (
        '<extLst><ext uri="{78C0D931-6437-407d-A8EE-F0AAD7539E65}" xmlns:x14="http://schemas.microsoft.com/office/'
        'spreadsheetml/2009/9/main" xmlns:xm="http://schemas.microsoft.com/office/excel/2006/main">'
        '<x14:conditionalFormattings><x14:conditionalFormatting><x14:cfRule type="expression" id="{1}">'
        '<xm:f>Constants!B7&gt;0</xm:f><x14:dxf><font><color rgb="FFFFFFFF"/></font></x14:dxf></x14:cfRule>'
        "<xm:sqref>B15</xm:sqref></x14:conditionalFormatting></x14:conditionalFormattings></ext></extLst></worksheet>"
    )
    copy.swap(copy.part(sheet_of(copy, "cornea")), "</worksheet>", xml)
    return sheet_of(copy, "cornea"), "B15"


def _rule(copy: Copy, old: str, new: str) -> Spot:
    place = copy.place("eyes", "typed_axial_length", "right")
    copy.sub(
        copy.part(place[0]), _VALIDATION.format(place[1]), lambda found: re.sub(old, new, found[0], flags=re.DOTALL)
    )
    return place


@plant("validation")
def a_rule_removed(copy: Copy) -> Spot:
    return _rule(copy, ".*", "")


@plant("validation")
def a_rule_with_another_limit(copy: Copy) -> Spot:
    return _rule(copy, "<formula2>.*</formula2>", "<formula2>9999</formula2>")


@plant("validation")
def a_rule_that_throws_away_what_is_typed(copy: Copy) -> Spot:
    return _rule(copy, 'errorStyle="information"', 'errorStyle="stop"')


@plant("validation")
def a_rule_that_says_nothing(copy: Copy) -> Spot:
    return _rule(copy, 'showErrorMessage="1"', 'showErrorMessage="0"')


@plant("validation")
def a_choice_more(copy: Copy) -> Spot:
    place = copy.place("eyes", "typed_k_rule", "left")
    copy.sub(
        copy.part(place[0]),
        _VALIDATION.format(place[1]),
        lambda found: found[0].replace('<formula1>"', '<formula1>"guess,'),
    )
    return place
