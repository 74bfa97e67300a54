"""Builds what stands in output/, and checks that what stands there is what the specs now build."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Iterator, Mapping, Sequence
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
from builder.spec.words import ENGLISH, load_words

OUTPUT = SPECS.parent / "output"
CASES = SPECS / "cases"
BLANK, DEMO, DUMP = "planning-workbook.xlsx", "planning-workbook-demo.xlsx", "planning-workbook.txt"
BOOKS = {  # each workbook in each language, and the stem of its files
    (PLAN, ENGLISH): "planning-workbook",
    (REGISTER, ENGLISH): "outcome-register",
    (PLAN, "es"): "libro-de-plan",
    (REGISTER, "es"): "registro-de-resultados",
}


def build(folder: Path = OUTPUT) -> list[Path]:
    """Writes each workbook blank and as a demo, in English with its readable dump too; returns their paths.

    Raises SpecError, before anything is written, for a mistake in the specs of any of them, when results changed and
    the change log does not say so, or when a released version changed.
    """
    demand_specs()
    for model in books():
        store.refuse_changed_release(model)
    record.demand_entry(load_model())
    return [path for name, language in BOOKS for path in build_book(name, folder, language)]


def demand_specs() -> None:
    """Raises SpecError for a mistake in the specs of any workbook in any language; words, soon read, come first."""
    for book in BOOKS:
        load_words(*book, SPECS)
    for book in BOOKS:
        load_model(*book)


def books() -> list[Model]:
    """Each workbook in each language."""
    return [load_model(*book) for book in BOOKS]


def build_book(name: str, folder: Path, language: str = ENGLISH) -> list[Path]:
    """Writes one workbook's files and returns their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    model, stem = load_model(name, language), BOOKS[name, language]
    jobs: list[tuple[Mapping[Place, Any], Path]] = [({}, folder / f"{stem}.xlsx")]
    jobs += [(typed, folder / f"{stem}-demo.xlsx") for typed in _demo(model)]
    fill_many(model, jobs)
    paths = [path for _, path in jobs]
    if language == ENGLISH:
        paths.append(folder / f"{stem}.txt")
        paths[-1].write_text("\n".join((model.edition, *model.dump)) + "\n", encoding="utf-8")
    return paths


def _demo(model: Model) -> list[Mapping[Place, Any]]:
    """What is typed into the demo workbook: an invented patient, or a register of simulated eyes that says so."""
    if model.spec.name == REGISTER:
        name = model.spec.words.get("text", "simulated_register")
        return [register_cells(model, simulated_lines(load_model(PLAN, model.spec.language)), name)]
    return [read_case(model, sorted(CASES.glob("*.toml"))[0])]


def release() -> list[Path]:
    """Keeps the current edition in each language, and the results of its cases. Raises SpecError as `build` does."""
    record.demand_entry(load_model())
    kept = [write(model) for model in books() for write in (store.release, store.write_current)]
    return [*kept, record.write_record(load_model())]


def differences(folder: Path = OUTPUT) -> list[str]:
    """What differs between a folder and a fresh build, part by uncompressed part."""
    demand_specs()
    found = list(dict.fromkeys(fault for model in books() for fault in store.faults(model)))
    with tempfile.TemporaryDirectory() as fresh:
        return [*found, *differing(folder, build(Path(fresh)))]


def differing(folder: Path, fresh: Sequence[Path]) -> Iterator[str]:
    """A sentence for each freshly built file that a folder has not, or has with other parts."""
    for path in fresh:
        committed = folder / path.name
        if not committed.exists():
            yield f"{path.name} is missing; run: python -m builder build"
        elif _parts(committed) != _parts(path):
            yield f"{path.name} is not what the specs build now; run: python -m builder build"


def _parts(path: Path) -> dict[str, bytes]:
    if path.suffix != ".xlsx":
        return {path.name: path.read_bytes()}
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}
