"""Each deceit of the catalogue in a file as a program saves it: `python -m tests.saved_deceits [--every 4]`.

The changed workbook is opened and saved by LibreOffice, Gnumeric or openpyxl, then judged by `verify`. A deceit that
the program itself does away with is told apart: LibreOffice then shows the file as what became of the good one, but for
what no person sees, such as a picture that is a hundredth of a millimetre aside.
Status 1 if one is neither found nor refused nor gone.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from builder.engine.audit.verify import CHANGED, NOT_COMPUTED, REFUSED
from builder.engine.exchange.fill import fill
from builder.engine.exchange.gnumeric import convert as by_gnumeric
from builder.engine.exchange.office import EngineFailed, convert
from builder.engine.model import Model, load_model
from tests.saved import by_openpyxl
from tests.seen.shown import Shown
from tests.support.deceits_seen import SEEN
from tests.support.hostile import Parts, pack, parts_of
from tests.support.in_memory import report_on
from tests.support.plants import Copy
from tests.support.workbooks import typed_case

Saving = Callable[[Sequence[Path], Path], list[Path]]
PROGRAMS: dict[str, Saving] = {"LibreOffice": convert, "Gnumeric": by_gnumeric, "openpyxl": by_openpyxl}
AT_ONCE = 8


def deceived(model: Model, good: Parts, names: Sequence[str]) -> dict[str, Parts]:
    """The good workbook with each deceit."""
    made = {}
    for name in names:
        copy = Copy(model, dict(good))
        SEEN[name][1](copy)
        made[name] = copy.parts
    return made


def ends(files: dict[str, Parts], good: Parts, saving: Saving) -> Iterator[tuple[str, str]]:
    """How each file ends once the program has saved it: found, refused, gone, not opened or missed."""
    with tempfile.TemporaryDirectory(prefix="deceits-") as name:
        folder = Path(name)
        honest = _saved({"good": good}, saving, folder)["good"]
        assert honest is not None
        shown, names = Shown(honest, folder, near=True), list(files)
        for first in range(0, len(names), AT_ONCE):
            some = {one: files[one] for one in names[first : first + AT_ONCE]}
            for one, parts in _saved(some, saving, folder).items():
                yield one, "not opened" if parts is None else _judged(parts, honest, shown)


def _saved(files: dict[str, Parts], saving: Saving, folder: Path) -> dict[str, Parts | None]:
    paths = [pack(parts, folder / f"{number}.xlsx") for number, parts in enumerate(files.values())]
    target = folder / "saved"
    target.mkdir(exist_ok=True)
    try:
        return {name: parts_of(path) for name, path in zip(files, saving(paths, target), strict=True)}
    except Exception as error:  # whatever a library raises of a file that it cannot read
        if len(files) == 1:
            print(*files, "not opened:", type(error).__name__, EngineFailed.__name__, flush=True)
            return dict.fromkeys(files)
        return {name: parts for one in files for name, parts in _saved({one: files[one]}, saving, folder).items()}


def _judged(parts: Parts, honest: Parts, shown: Shown) -> str:
    verdict, good = report_on(parts), report_on(honest)
    if verdict.verdict == REFUSED:
        return "refused"
    if verdict.verdict == CHANGED and set(verdict.findings) - set(good.findings):
        return "found"
    assert verdict.verdict != NOT_COMPUTED
    return "gone" if shown.same([(parts, "")])[0] else "MISSED"


def main() -> int:
    """Prints how the deceits end, by program."""
    options = argparse.ArgumentParser(prog="python -m tests.saved_deceits", description=__doc__)
    options.add_argument("--every", type=int, default=1, help="each how many-th deceit of the catalogue")
    options.add_argument("--programs", nargs="+", choices=list(PROGRAMS), default=list(PROGRAMS))
    options.add_argument("--only", nargs="+", choices=sorted(SEEN), help="these deceits")
    chosen = options.parse_args()
    model, missed = load_model(), 0
    with tempfile.TemporaryDirectory(prefix="good-") as name:
        fill(model, typed_case("ready"), Path(name) / "good.xlsx")
        good = parts_of(Path(name) / "good.xlsx")
    files = deceived(model, good, chosen.only or sorted(SEEN)[:: chosen.every])
    for program in chosen.programs:
        counts: Counter[str] = Counter()
        for one, end in ends(files, good, PROGRAMS[program]):
            counts[end] += 1
            if end in ("MISSED", "not opened"):
                print(f"{program}: {one}: {end} ({SEEN[one][0]})", flush=True)
        missed += counts["MISSED"]
        print(
            f"{program}: {len(files)} deceits: " + ", ".join(f"{n} {end}" for end, n in counts.most_common()),
            flush=True,
        )
    return 1 if missed else 0


if __name__ == "__main__":
    raise SystemExit(main())
