"""Builds what stands in output/, and checks that what stands there is what the specs now build."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Collection, Iterable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any, NamedTuple

from builder.engine import same
from builder.engine.editions import record, store
from builder.engine.exchange.fill import fill_many
from builder.engine.layout import Place
from builder.engine.model import Model, load_model
from builder.engine.spec import SpecError
from builder.engine.spec.reading import SPECS
from builder.engine.spec.translated import demand_looked_at
from builder.engine.spec.words import ENGLISH
from builder.planner.books import PLAN, REGISTER
from builder.planner.cases import kept_cases
from builder.planner.exchange.casefile import read_case
from builder.planner.exchange.register import register_cells
from builder.planner.simulation.register import simulated_lines

OUTPUT = SPECS.parent / "output"
CASES = SPECS / "cases"
BLANK, DEMO = "planning-workbook.xlsx", "planning-workbook-demo.xlsx"
DEMOS = (ENGLISH,)  # languages whose demos stand in output/; others are built on request
TOLD = 10  # differences of one file that are told
BOOKS = {  # each workbook in each language, and the stem of its files
    (PLAN, ENGLISH): "planning-workbook",
    (REGISTER, ENGLISH): "outcome-register",
    (PLAN, "es"): "libro-de-plan",
    (REGISTER, "es"): "registro-de-resultados",
}
LONGEST_FIRST = sorted(BOOKS, key=lambda book: book[0] != REGISTER)


class Built(NamedTuple):
    """A workbook as it was built: its files, what it is called, its edition, and what is worth saying of it."""

    files: list[Path]
    title: str
    edition: str
    formula_cells: int
    notes: list[str]


def build(folder: Path = OUTPUT, editions: Path = store.EDITIONS, demos: Collection[str] = DEMOS) -> list[Built]:
    """Writes each workbook blank, in the languages `demos` as a demo too, and the dump of each edition to `editions`.

    A file that is there and differs by no more than arithmetic does on another processor is left as it is.
    Raises SpecError, before anything is written, for a mistake in the specs of any of them, when results changed and
    the change log does not say so, or when a released version changed.
    """
    with tempfile.TemporaryDirectory(prefix="build-") as fresh:
        books = build_books(Path(fresh), demos)
        return [book._replace(files=[_renew(path, folder, editions) for path in book.files]) for book in books]


def build_books(folder: Path, demos: Collection[str] = DEMOS) -> list[Built]:
    """Every workbook with its dump in a folder; each is built in a process of its own. Raises SpecError."""
    for name, language in BOOKS:
        if language != ENGLISH:  # what most often stops a build, told before anything is built
            demand_looked_at(language, SPECS, name)
    with ProcessPoolExecutor(min(len(BOOKS), os.cpu_count() or 1)) as pool:
        started = {book: pool.submit(build_book, *book, folder, book[1] in demos) for book in LONGEST_FIRST}
        try:
            return [started[book].result() for book in BOOKS]
        except SpecError:
            pool.shutdown(cancel_futures=True)
            raise


def build_book(name: str, language: str, folder: Path, demo: bool) -> Built:
    """Writes one workbook's files. Raises SpecError, before it writes them."""
    folder.mkdir(parents=True, exist_ok=True)
    model, stem = load_model(name, language), BOOKS[name, language]
    notes: list[str] = []
    store.refuse_changed_release(model)
    if (name, language) == (PLAN, ENGLISH):
        record.demand_entry(model, kept_cases(model))
        notes = record.changed_constants(model)
    jobs: list[tuple[Mapping[Place, Any], Path]] = [({}, folder / f"{stem}.xlsx")]
    if demo:
        jobs.append((_demo(model), folder / f"{stem}-demo.xlsx"))
    fill_many(model, jobs)
    files = [*(path for _, path in jobs), store.write_current(model, folder)]
    return Built(files, model.spec.title, model.edition, len(model.compiled), notes)


def books() -> list[Model]:
    """Each workbook in each language."""
    return [load_model(*book) for book in BOOKS]


def _place(path: Path, folder: Path, editions: Path) -> Path:
    """Where a file that was built belongs."""
    return (editions if path.name.startswith(store.CURRENT) else folder) / path.name


def _renew(path: Path, folder: Path, editions: Path) -> Path:
    """Puts a file where it belongs, unless one that is the same stands there."""
    place = _place(path, folder, editions)
    place.parent.mkdir(parents=True, exist_ok=True)
    if not place.exists() or _apart(place, path):
        shutil.copyfile(path, place)
    return place


def _apart(old: Path, new: Path) -> list[str]:
    """What differs in two files by meaning, in words."""
    if new.suffix == ".xlsx":
        return same.differences(old, new)
    return [] if old.read_bytes() == new.read_bytes() else ["it has other lines"]


def _demo(model: Model) -> Mapping[Place, Any]:
    """What is typed into the demo workbook: an invented patient, or a register of simulated eyes that says so."""
    if model.spec.name == REGISTER:
        name = model.spec.words.get("text", "simulated_register")
        return register_cells(model, simulated_lines(load_model(PLAN, model.spec.language)), name)
    return read_case(model, sorted(CASES.glob("*.toml"))[0])


def release() -> list[Path]:
    """Keeps the current edition in each language, and the results of its cases. Raises SpecError as `build` does."""
    model = load_model()
    record.demand_entry(model, kept_cases(model))
    kept = [write(model) for model in books() for write in (store.release, store.write_current)]
    return [*kept, record.write_record(model, kept_cases(model))]


class Checked(NamedTuple):
    """A comparison of what stands here with a fresh build: the workbooks, and what differs, in words."""

    books: list[Built]
    differences: list[str]


def check(folder: Path = OUTPUT, editions: Path = store.EDITIONS) -> Checked:
    """Builds everything anew and compares. Raises SpecError."""
    with tempfile.TemporaryDirectory(prefix="check-") as fresh:
        books = build_books(Path(fresh))
        found = [line for book in books for line in differing(folder, book.files, editions)]
    return Checked(books, found + store.broken(editions))


def differing(folder: Path, fresh: Iterable[Path], editions: Path = store.EDITIONS) -> Iterator[str]:
    """Sentences for each freshly built file that is not there, or that is there with another meaning."""
    for path in fresh:
        place = _place(path, folder, editions)
        if not place.exists():
            yield f"{path.name} is missing; run: python -m builder build"
            continue
        found = _apart(place, path)
        more = [f"and {len(found) - TOLD} differences more"] if len(found) > TOLD else []
        if found:
            yield f"{path.name} is not what the specs build now; run: python -m builder build"
            yield from (f"  {line}" for line in found[:TOLD] + more)
