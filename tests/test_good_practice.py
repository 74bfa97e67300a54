"""The table of good practice (specs/practice.toml) is whole, and the rules of accessible spreadsheets hold."""

from __future__ import annotations

import re
import tomllib
import zipfile
from pathlib import Path

import openpyxl
import pytest

from builder.engine.model import Model, load_model
from builder.engine.spec.reading import SPECS
from builder.engine.spec.words import ENGLISH
from builder.planner.books import PLAN, REGISTER
from tests.support.filled import fill

TESTS = Path(__file__).parent
CONTRAST = 4.5  # WCAG 2.1, success criterion 1.4.3
LONGEST_TITLE = 31  # letters, the file format's limit


def rules() -> list[dict[str, object]]:
    """The rules as the table lists them."""
    with (SPECS / "practice.toml").open("rb") as handle:
        return list(tomllib.load(handle)["rule"])


@pytest.fixture(scope="module", params=[(PLAN, ENGLISH, None), (PLAN, "es", None), (REGISTER, ENGLISH, 12)])
def model(request: pytest.FixtureRequest) -> Model:
    """The planning workbook in two languages, and a short register."""
    name, language, lines = request.param
    return load_model(name, language, lines=lines)


@pytest.fixture(scope="module")
def blank(model: Model, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The blank workbook."""
    path = tmp_path_factory.mktemp("practice") / "blank.xlsx"
    fill(model, {}, path)
    return path


def test_every_rule_is_met_by_a_test_or_is_somebodys_duty() -> None:
    """Each test that is named exists."""
    assert len(rules()) > 25
    for rule in rules():
        assert set(rule) <= {"from", "rule", "met", "tests", "duty"} and rule["met"], rule
        assert rule.get("tests") or rule.get("duty"), f"{rule['rule']}: nobody sees to it"
        for name in rule.get("tests", ()):  # type: ignore[attr-defined]
            file, _, test = name.partition("::")
            text = (TESTS / f"{file}.py").read_text(encoding="utf-8")
            assert re.search(rf"^def {test}\(", text, re.MULTILINE), f"{name} is no test"


def test_all_twenty_principles_are_answered() -> None:
    """Numbers 1 to 20 of the twenty principles each stand beside a rule."""
    named = "; ".join(str(rule["from"]) for rule in rules())
    answered = {int(n) for found in re.findall(r"ICAEW ([0-9, ]+)", named) for n in re.findall(r"\d+", found)}
    assert answered == set(range(1, 21))


def _luminance(color: str) -> float:
    """Relative luminance of #RRGGBB (WCAG 2.1)."""
    parts = [int(color[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_text_stands_out_from_its_ground(model: Model) -> None:
    """A style with ink and ground by itself, the others in every pair; black on white is 21 to 1 (WCAG 2.1).

    A tab's colour is no ground of ours: the spreadsheet program writes the name on it, in an ink that it picks.
    """
    assert (_luminance("#FFFFFF") + 0.05) / (_luminance("#000000") + 0.05) == pytest.approx(21)
    cells = {role: style for role, style in model.spec.styles.items() if not role.startswith("tab_")}
    styles = [(style.get("font_color"), style.get("bg_color")) for style in cells.values()]
    inks = {ink for ink, ground in styles if ink and not ground} | {"#000000"}
    grounds = {ground for ink, ground in styles if ground and not ink} | {"#FFFFFF"}
    pairs = {(ink, ground) for ink in inks for ground in grounds} | {(i, g) for i, g in styles if i and g}
    assert len(pairs) > 4
    for ink, ground in sorted(pairs):
        high, low = sorted((_luminance(ink), _luminance(ground)), reverse=True)
        assert (high + 0.05) / (low + 0.05) >= CONTRAST, f"{ink} on {ground}"


def test_every_page_says_whose_it_is(model: Model, blank: Path) -> None:
    """File, edition and state are frozen and repeated on each printed page; the footer has edition and page."""
    book = openpyxl.load_workbook(blank)
    assert len(book.worksheets) == len(model.spec.sheets)
    for sheet in book.worksheets:
        assert sheet.print_title_rows and sheet.print_title_rows.startswith("$1:"), sheet.title
        assert sheet.freeze_panes, sheet.title
        footer = "".join(
            str(part.text or "") for part in (sheet.oddFooter.left, sheet.oddFooter.center, sheet.oddFooter.right)
        )
        assert model.edition in footer and "&P" in footer, sheet.title


def test_every_chart_has_a_text_in_its_place(model: Model, blank: Path) -> None:
    """As many texts as charts, none empty."""
    wanted = sum(len(sheet.charts) for sheet in model.spec.sheets)
    with zipfile.ZipFile(blank) as archive:
        drawings = [
            archive.read(name).decode()
            for name in archive.namelist()
            if re.fullmatch(r"xl/drawings/drawing\d+\.xml", name)
        ]
    frames = [
        frame
        for drawing in drawings
        for frame in re.findall(r"<xdr:graphicFrame.*?</xdr:graphicFrame>", drawing, re.DOTALL)
    ]
    assert len(frames) >= wanted > 0
    for frame in frames:
        assert re.search(r'<xdr:cNvPr [^>]*descr="[^"]{10,}"', frame)


def test_sheets_have_names_of_their_own(blank: Path) -> None:
    """None twice, none too long, none empty."""
    book = openpyxl.load_workbook(blank)
    titles = [sheet.title for sheet in book.worksheets]
    assert len({title.casefold() for title in titles}) == len(titles)
    assert all(len(title) <= LONGEST_TITLE and not re.fullmatch(r"Sheet ?\d+", title) for title in titles)
    assert all(sheet["A1"].value for sheet in book.worksheets)


def test_the_cursor_starts_in_an_input(model: Model, blank: Path) -> None:
    """On every sheet that has typing cells, the first of them that has no default is selected."""
    book = openpyxl.load_workbook(blank)
    first: dict[str, str] = {}
    for slot in model.layout.slots:
        if slot.row.input is not None and not slot.row.input.default:
            first.setdefault(model.spec.sheet_title(slot.place.sheet), slot.place.address)
    assert len(first) > (3 if model.spec.name == PLAN else 1)  # the register has two such sheets
    for title, address in first.items():
        assert book[title].sheet_view.selection[-1].activeCell == address


def test_the_first_sheet_prints_on_one_page_with_its_cautions(blank: Path) -> None:
    """However many steps it lists: no page break, and the height is fitted."""
    first = openpyxl.load_workbook(blank).worksheets[0]
    assert first.page_setup.fitToHeight in (None, 1)  # one page is the format's default
    assert first.sheet_properties.pageSetUpPr.fitToPage
    assert not first.row_breaks.brk
