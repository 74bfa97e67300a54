"""Workbooks of strangers: what is odd is refused by name, what a spreadsheet program saved is opened."""

import random
from pathlib import Path

import openpyxl
import pytest

from builder.engine.exchange import archive, untrusted
from builder.engine.exchange.office import convert
from builder.engine.exchange.untrusted import Refused, open_untrusted
from builder.planner.build import BLANK, OUTPUT
from tests.support.differing import DIFFERING, ZIPPED
from tests.support.hostile import SPOILT, pack, parts_of

GOOD = OUTPUT / BLANK


def _refusal(path: Path) -> Refused:
    with pytest.raises(Refused) as raised:
        open_untrusted(path)
    assert raised.value.sentence.startswith(f"{path.name}: ")
    assert str(raised.value) == raised.value.sentence
    return raised.value


def test_a_good_workbook_is_opened() -> None:
    """The parts, and the sheets in order as another reader has them."""
    package = open_untrusted(GOOD)
    book = openpyxl.load_workbook(GOOD, read_only=True)
    assert [title for title, _ in package.sheets] == book.sheetnames
    assert package.parts == parts_of(GOOD)


def test_a_workbook_saved_by_another_program_is_opened(libreoffice: str, tmp_path: Path) -> None:
    """A clinic's program saves other parts than ours; all of them pass."""
    saved = convert([GOOD], tmp_path)[0]
    assert [title for title, _ in open_untrusted(saved).sheets] == [title for title, _ in open_untrusted(GOOD).sheets]


@pytest.mark.parametrize("name", SPOILT)
def test_a_hostile_file_is_refused_by_name(name: str, tmp_path: Path) -> None:
    """One thing wrong: refused for that reason."""
    key, spoil = SPOILT[name]
    assert _refusal(pack(spoil(parts_of(GOOD)), tmp_path / "sent.xlsx")).key == key


@pytest.mark.parametrize(
    ("key", "content"),
    [
        ("empty", b""),
        ("no_zip", b"file number;eye\n1;right\n"),
        ("no_zip", b"%PDF-1.4 renamed to .xlsx"),
        ("old_format", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(2000)),
        ("locked", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "EncryptedPackage".encode("utf-16-le")),
        ("cut", GOOD.read_bytes()[:100_000]),
        ("cut", b"PK\x03\x04"),
    ],
)
def test_what_is_no_workbook_is_refused(key: str, content: bytes, tmp_path: Path) -> None:
    """Empty, renamed, old, encrypted, cut short."""
    path = tmp_path / "sent.xlsx"
    path.write_bytes(content)
    assert _refusal(path).key == key


def test_what_is_not_there_is_said(tmp_path: Path) -> None:
    """No file, a folder."""
    assert _refusal(tmp_path / "gone.xlsx").key == "missing"
    assert _refusal(tmp_path).key == "unreadable"


def test_sizes_are_looked_at_before_unpacking(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A large file and a large content, each refused."""
    monkeypatch.setattr(untrusted, "LARGEST_FILE", 1000)
    assert _refusal(GOOD).key == "too_large"
    monkeypatch.undo()
    monkeypatch.setattr(archive, "LARGEST_UNPACKED", 1000)
    monkeypatch.setattr(archive, "_content", lambda *_: pytest.fail("unpacked before it was judged"))
    assert _refusal(GOOD).key == "swollen"


def test_a_part_given_twice_is_refused(tmp_path: Path) -> None:
    """One program would read the first, another the last."""
    path = tmp_path / "sent.xlsx"
    pack(parts_of(GOOD) | {"XL/Workbook.xml": b"<workbook/>"}, path)
    assert _refusal(path).key == "twice"


@pytest.mark.parametrize("name", DIFFERING)
def test_a_file_that_two_readers_could_read_in_two_ways_is_refused(name: str, tmp_path: Path) -> None:
    """Names that one of them shortens, second relations, decoys, parts that nothing leads to, kinds told otherwise."""
    parts = DIFFERING[name](parts_of(GOOD))
    assert parts != parts_of(GOOD)
    assert _refusal(pack(parts, tmp_path / "sent.xlsx")).key not in ("broken", "cut", "missing")


@pytest.mark.parametrize("name", ZIPPED)
def test_a_zip_whose_heads_and_list_disagree_is_refused(name: str, tmp_path: Path) -> None:
    """A reader from front to back, or of the Unicode names, would find other parts than one of the list."""
    path = tmp_path / "sent.xlsx"
    path.write_bytes(ZIPPED[name](GOOD.read_bytes()))
    assert _refusal(path).key in ("odd_part", "cut")


def test_an_encrypted_part_is_refused(tmp_path: Path) -> None:
    """The flag of an encrypted part in the list of parts."""
    content = bytearray(GOOD.read_bytes())
    at = content.index(b"PK\x01\x02")
    content[at + 8] |= 1
    path = tmp_path / "sent.xlsx"
    path.write_bytes(content)
    assert _refusal(path).key == "locked"


def test_flipped_bytes_never_end_in_another_error(tmp_path: Path) -> None:
    """300 copies with some bytes changed: all but those that change a date are refused, by name."""
    chance, content, path = random.Random(5), GOOD.read_bytes(), tmp_path / "sent.xlsx"
    refused = 0
    for _ in range(300):
        changed = bytearray(content)
        for _ in range(chance.choice((1, 4, 40))):
            changed[chance.randrange(len(changed))] = chance.randrange(256)
        path.write_bytes(changed)
        try:
            open_untrusted(path)
        except Refused:
            refused += 1
    assert refused > 200
