"""Builds what stands in output/, and checks that what stands there is what the specs now build."""

from __future__ import annotations

import tempfile
import zipfile
from pathlib import Path

from builder.editions import record, store
from builder.exchange.casefile import read_case
from builder.exchange.fill import fill_many
from builder.model import load_model
from builder.spec.load import SPECS

OUTPUT = SPECS.parent / "output"
CASES = SPECS / "cases"
BLANK, DEMO, DUMP = "planning-workbook.xlsx", "planning-workbook-demo.xlsx", "planning-workbook.txt"


def build(folder: Path = OUTPUT) -> list[Path]:
    """Writes the blank and the demo workbook and the readable dump; returns their paths.

    Raises SpecError when results changed and the change log does not say so, or when a released version changed.
    """
    model = load_model()
    store.refuse_changed_release(model)
    record.demand_entry(model)
    folder.mkdir(parents=True, exist_ok=True)
    demo = read_case(model, sorted(CASES.glob("*.toml"))[0])
    fill_many(model, [({}, folder / BLANK), (demo, folder / DEMO)])
    (folder / DUMP).write_text("\n".join((model.edition, *model.dump)) + "\n", encoding="utf-8")
    return [folder / name for name in (BLANK, DEMO, DUMP)]


def release() -> list[Path]:
    """Keeps the current edition and the results of its cases as released. Raises SpecError as `build` does."""
    model = load_model()
    record.demand_entry(model)
    return [store.release(model), store.write_current(model), record.write_record(model)]


def differences(folder: Path = OUTPUT) -> list[str]:
    """What differs between a folder and a fresh build, part by uncompressed part."""
    found = store.faults(load_model())
    with tempfile.TemporaryDirectory() as fresh:
        for path in build(Path(fresh)):
            committed = folder / path.name
            if not committed.exists():
                found.append(f"{path.name} is missing; run: python -m builder build")
            elif _parts(committed) != _parts(path):
                found.append(f"{path.name} is not what the specs build now; run: python -m builder build")
    return found


def _parts(path: Path) -> dict[str, bytes]:
    if path.suffix != ".xlsx":
        return {path.name: path.read_bytes()}
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}
