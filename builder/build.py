"""Builds what stands in output/, and checks that what stands there is what the specs now build."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from builder.editions import record, store
from builder.exchange.casefile import read_case
from builder.exchange.fill import fill_many
from builder.exchange.register import register_cells
from builder.layout import Place
from builder.model import PLAN, REGISTER, Model, load_model
from builder.simulation.register import simulated_lines
from builder.spec.load import SPECS

OUTPUT = SPECS.parent / "output"
CASES = SPECS / "cases"
BLANK, DEMO, DUMP = "planning-workbook.xlsx", "planning-workbook-demo.xlsx", "planning-workbook.txt"
BOOKS = {PLAN: "planning-workbook", REGISTER: "outcome-register"}  # each workbook and the stem of its files


def build(folder: Path = OUTPUT) -> list[Path]:
    """Writes each workbook blank and as a demo, and its readable dump; returns their paths.

    Raises SpecError when results changed and the change log does not say so, or when a released version changed.
    """
    model = load_model()
    store.refuse_changed_release(model)
    record.demand_entry(model)
    return [path for name in BOOKS for path in build_book(name, folder)]


def build_book(name: str, folder: Path) -> list[Path]:
    """Writes one workbook's files and returns their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    model, stem = load_model(name), BOOKS[name]
    jobs: list[tuple[Mapping[Place, Any], Path]] = [({}, folder / f"{stem}.xlsx")]
    jobs += [(typed, folder / f"{stem}-demo.xlsx") for typed in _demo(model)]
    fill_many(model, jobs)
    dump = folder / f"{stem}.txt"
    dump.write_text("\n".join((model.edition, *model.dump)) + "\n", encoding="utf-8")
    return [*(path for _, path in jobs), dump]


def _demo(model: Model) -> list[Mapping[Place, Any]]:
    """What is typed into the demo workbook: an invented patient, or a register of simulated eyes that says so."""
    if model.spec.name == REGISTER:
        name = model.spec.words.get("text", "simulated_register")
        return [register_cells(model, simulated_lines(load_model(PLAN)), name)]
    return [read_case(model, sorted(CASES.glob("*.toml"))[0])]


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
