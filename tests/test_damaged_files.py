"""Damaged and malicious files through the commands that read strangers' files: an answer or a sentence, always.

No traceback, no hanging, no half-said refusal; the figures are printed. DAMAGED_FILES=all takes every file.
"""

import json
import os
import signal
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType

import pytest

from builder.cli import main
from builder.engine.layout import Slot
from builder.engine.model import Model
from builder.planner.exchange.casefile import input_slots
from tests.support.damage import damaged
from tests.support.filled import fill
from tests.support.hostile import parts_of
from tests.support.workbooks import at, typed_case

LIMIT = 20  # seconds for one file, on a busy machine
LIMIT_OF_ALL = 400  # seconds for all files in one call, the register's writing included
FEWEST = 200
EVERY = 1 if os.environ.get("DAMAGED_FILES") == "all" else 8  # the default tests take each eighth
COMMANDS: dict[str, Callable[[Path, Path], list[str]]] = {  # the command line for a file, in a folder of its own
    "read": lambda path, folder: ["read", str(path), "--json"],
    "verify": lambda path, folder: ["verify", str(path), "--json"],
}


class TooLong(BaseException):
    """Not caught by anything that a command catches."""


def _stop(_: int, __: FrameType | None) -> None:
    raise TooLong


@pytest.fixture(scope="module")
def files(model: Model, tmp_path_factory: pytest.TempPathFactory) -> list[tuple[str, Path]]:
    """What was done to each file, and the file."""
    folder = tmp_path_factory.mktemp("damaged")
    fill(model, typed_case("register-line"), folder / "good.xlsx")  # with a follow-up, so that gather takes it
    part = {
        model.spec.sheet_title(sheet.key): f"xl/worksheets/sheet{n}.xml" for n, sheet in enumerate(model.spec.sheets, 1)
    }

    def cell(slot: Slot) -> tuple[str, str]:
        title, address = at(model, slot.place)
        return part[title], address

    inputs = [cell(slot) for slot in input_slots(model).values()]
    searched = cell(model.layout.cells("eyes", "typed_lens_choice")["right", "right"])
    listed = next(model.spec.sheet_title(sheet.key) for sheet in model.spec.sheets if sheet.generated == "list")
    good = parts_of(folder / "good.xlsx")
    found = []
    all_files = list(damaged(good, inputs, searched, part[listed]))
    assert len(all_files) >= FEWEST
    for number, (done, data) in enumerate(all_files[::EVERY]):
        path = folder / f"{number}.xlsx"
        path.write_bytes(data)
        found.append((done, path))
    return found


@pytest.mark.parametrize("command", COMMANDS)
def test_every_damaged_file_ends_with_an_answer_or_a_sentence(
    command: str, files: list[tuple[str, Path]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit status 0, 1 or 2; what is printed is JSON or one sentence; nothing takes long."""
    ended: Counter[int] = Counter()
    wrong = []
    before = signal.signal(signal.SIGALRM, _stop)
    try:
        for done, path in files:
            signal.alarm(LIMIT)
            try:
                status = main(COMMANDS[command](path, tmp_path))
            except TooLong:
                wrong.append(f"{done}: takes longer than {LIMIT} s")
                continue
            except Exception as error:  # which is the very thing looked for
                wrong.append(f"{done}: {type(error).__name__}: {str(error)[:200]}")
                continue
            finally:
                signal.alarm(0)
            ended[status] += 1
            wrong += [f"{done}: {fault}" for fault in _faults(status, *capsys.readouterr())]
    finally:
        signal.signal(signal.SIGALRM, before)
    with capsys.disabled():
        print(f"\n{command}: {len(files)} damaged files, {ended[2]} refused, {ended[1]} changed, {ended[0]} answered")
    assert ended[2] * EVERY >= FEWEST // 2
    assert not wrong, f"{len(wrong)} of {len(files)}\n" + "\n".join(wrong)


def test_gather_takes_or_refuses_every_damaged_file(
    files: list[tuple[str, Path]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """All in one call, as a clinic gathers: a register is written, each file gave lines or is refused in a sentence."""
    before = signal.signal(signal.SIGALRM, _stop)
    signal.alarm(LIMIT_OF_ALL)
    try:
        status = main(["gather", *(str(path) for _, path in files), "-o", str(tmp_path / "register.xlsx"), "--json"])
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
    out, err = capsys.readouterr()
    answer = json.loads(out)
    told = {refusal["file"]: refusal["sentence"] for refusal in answer["refusals"]}
    taken = [done for done, path in files if path.name not in told]
    repeated = sum(refusal["key"] == "known_eye" for refusal in answer["refusals"]) // 2  # both eyes are there already
    with capsys.disabled():
        print(
            f"\ngather: {len(files)} damaged files, {len(told) - repeated} refused, {len(taken)} taken,"
            f" {repeated} of the same eyes once more"
        )
    assert status == 1 and answer["files"] == len(files) and (tmp_path / "register.xlsx").exists()
    assert "Traceback" not in out + err
    assert answer["lines"] >= len(taken) > 0
    assert (len(told) - repeated) * EVERY >= FEWEST // 2
    assert not [sentence for sentence in told.values() if not 20 < len(sentence) < 600 or "{" in sentence]


def _faults(status: int, out: str, err: str) -> Iterator[str]:
    told = [line for line in err.splitlines() if line]
    if status not in (0, 1, 2):
        yield f"ends with {status}"
    if "Traceback" in out + err:
        yield "shows a traceback"
    if out:
        constants: list[str] = []
        answer = json.loads(out, parse_constant=constants.append)
        if constants:
            yield f"prints {constants}, which is no JSON"
        if isinstance(answer, list):
            told += [report["refused"] for report in answer if report["verdict"] == "refused"]
    elif not told:
        yield "says nothing"
    if status == 2 and (len(told) != 1 or not 20 < len(told[0]) < 400 or "{" in told[0]):
        yield f"says {told}"
