"""What the workbook costs: to build, to recalculate, to keep; and the reference alone. Prints, asserts nothing."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import openpyxl
import xlsxwriter

from builder.engine.audit.verify import verify
from builder.engine.exchange import engines
from builder.engine.exchange.cellvalues import Cells, read_values
from builder.engine.exchange.fill import fill, fill_many
from builder.engine.kept import OTHERWISE
from builder.engine.model import Model, build_model, load_model
from builder.engine.spec.reading import SPECS
from builder.engine.spec.tokens import parts
from builder.engine.spec.words import ENGLISH
from builder.engine.values import typed_arrays
from builder.engine.write.measure import wrapped_lines as measured
from builder.planner import build as building
from builder.planner.books import PLAN, REGISTER
from builder.planner.exchange.casefile import read_case, typed_cells
from builder.planner.exchange.register import fill_register
from builder.planner.gather.lines import gather
from builder.planner.optics.cost import works as traced
from builder.planner.reading import read_workbook
from builder.planner.reference.cost import works
from builder.planner.reference.plan.evaluate import evaluate
from builder.planner.reference.plan.formulas import FORMULAS
from builder.planner.simulation.alarms import told as alarms_told
from builder.planner.simulation.store import read_simulated
from builder.planner.values import evaluate_cases, reference_book

Contents = list[tuple[str, list[tuple[int, int, Any, Any]]]]  # sheets; cells: line, column, content, stored result

HOME = SPECS.parent
REPEATS = 5  # the fastest counts: the others were disturbed
SENT, GATHERED = 8, 96  # filled workbooks that are written, and how many are gathered
EYES = 10_000  # for the throughput of the reference
TRACED = 2_000  # eyes, ray by ray
MILLION, LOOPED = 1_000_000, 500  # eyes on arrays, and the share of them that is looped over


def fastest(
    work: Callable[[], object], repeats: int = REPEATS, clock: Callable[[], float] = time.perf_counter
) -> float:
    """Seconds of the fastest of some runs."""
    times = []
    for _ in range(repeats):
        start = clock()
        work()
        times.append(clock() - start)
    return min(times)


def report() -> Iterator[str]:
    """The benchmark, a line at a time."""
    model = load_model()
    cases = [read_case(model, path) for path in sorted(building.CASES.glob("*.toml"))]
    with tempfile.TemporaryDirectory(prefix="bench-") as name:
        folder = Path(name)
        building.build_book(PLAN, ENGLISH, folder, demo=True)
        blank, demo = folder / building.BLANK, folder / building.DEMO
        yield from _building(model, cases[0], folder, [blank, demo])
        yield f"formula cells                 {len(model.compiled):9,}"
        yield f"blank file                    {blank.stat().st_size / 1000:9.0f} kB   aim: below 400"
        yield f"demo file                     {demo.stat().st_size / 1000:9.0f} kB"
        for engine in engines.INDEPENDENT:
            yield _recalculating(engine, demo)
        yield from _commands(folder)
        yield f"filling one workbook          {fastest(lambda: fill(model, cases[0], folder / 'one.xlsx')):9.2f} s"
        yield f"reading the demo by key       {fastest(lambda: read_workbook(demo)):9.2f} s"
        yield f"verifying the demo            {fastest(lambda: verify(demo), 3):9.2f} s    its edition kept from before"
        yield _gathering(model, folder)
    yield from alarms_told(model)
    yield from _register()
    yield _throughput(model, cases)
    yield from _million_eyes()
    yield from _traced_eyes()


def _commands(folder: Path) -> Iterator[str]:
    """Commands as a person starts them, each in a process of its own; a build of everything into another folder."""
    case = sorted(building.CASES.glob("*.toml"))[0]
    fill_it = ("fill", str(case), "-o", str(folder / "filled.xlsx"))
    key = ("explain", "mean_k")
    for command in (("--help",), key, fill_it, ("read", str(folder / building.DEMO), "--json")):
        seconds = fastest(partial(_command, *command), 3)
        yield f"{'python -m builder ' + command[0]:30}{seconds:9.2f} s    with starting"
    for work, told in (("build", ", all anew"), ("build", ""), ("check", "")):
        code = f"from pathlib import Path; from builder.planner.build import {work} as work; "
        code += f"work(*[Path({str(folder)!r})] * 2)"
        seconds = fastest(partial(_python, "-c", code, **({OTHERWISE: "1"} if told else {})), 1)
        yield f"{work + ' of everything' + told:30}{seconds:9.2f} s    aim: below 15"


def _command(*arguments: str) -> None:
    _python("-m", "builder", *arguments)


def _python(*arguments: str, **told: str) -> None:
    """Runs Python anew; `told`: variables of its environment."""
    environment = {**os.environ, **told}
    subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL, cwd=HOME, env=environment)


def _register() -> Iterator[str]:
    """The outcome register: blank and full, and what computing every cell anew costs beyond opening the file."""
    model = load_model(REGISTER)
    with tempfile.TemporaryDirectory(prefix="bench-") as name:
        blank, full = Path(name) / "blank.xlsx", Path(name) / "full.xlsx"
        written = fastest(lambda: fill_register(model, [], blank), 1)
        fill_register(model, _alike_eyes(len(model.spec.lists["lines"].keys)), full)
        yield f"register, formula cells       {len(model.compiled):9,}"
        yield f"register, writing it blank    {written:9.2f} s"
        sizes = [path.stat().st_size / 1e6 for path in (blank, full)]
        yield f"register, blank and full      {sizes[0]:9.2f} MB   {sizes[1]:.2f} MB full"
        yield from (_recalculating(engine, full) for engine in ("libreoffice", "gnumeric"))
        if engines.missing("libreoffice") is None:
            opened = fastest(lambda: engines.shown_on_opening([full]), 2)
            yield f"opening it, libreoffice       {opened:9.2f} s    with starting and reading back, nothing computed"


def _alike_eyes(count: int) -> list[dict[str, Any]]:
    """One invented eye over and over, each a little longer; its outcome hardly matters to the time."""
    eye = {"edition": "bench", "corneal_diagnosis": "keratoconus", "acd": 3.2, "mean_k": 46.0, "position_k": 46.0}
    eye |= {
        "lens": "Example",
        "a_constant": 118.27,
        "surgeon_factor": 1.34,
        "hoffer_pacd": 5.09,
        "lead_formula": "SRK/T",
    }
    eye |= {"haigis_a0": 0.97, "haigis_a1": 0.37, "haigis_a2": 0.11, "implanted_power": 16.0, "implanted_cylinder": 3.0}
    eye |= {f"predicted_{formula}": -0.5 for formula in FORMULAS}
    eye |= {"predicted_sphere": -0.3, "predicted_cylinder": -0.4, "predicted_axis": 10, "implanted_axis": 85}
    eye |= {"ring_cylinder_before": 2.5, "ring_axis_before": 84, "ring_cylinder_after": 2.4, "ring_axis_after": 86}
    eye |= {"incision_meridian": 180, "incision_sia": 0.1, "day": 40, "cylinder": -0.5, "axis": 20, "lens_axis": 88}
    return [
        eye
        | {"file_number": n, "eye": "right", "date": 45000 + n, "axial_length": 23 + n / 500, "sphere": n / 500 - 0.8}
        for n in range(1, count + 1)
    ]


def _building(model: Model, demo: Any, folder: Path, files: list[Path]) -> Iterator[str]:
    contents = [_contents(path) for path in files]

    def bare_writing() -> None:
        for sheets in contents:
            _write_bare(sheets, folder / "bare.xlsx")

    def whole() -> None:
        parts.cache_clear()
        measured.cache_clear()
        build_model(PLAN, ENGLISH, SPECS, None)  # not the one that is kept
        building.build_book(PLAN, ENGLISH, folder, demo=True)

    bare = fastest(bare_writing)
    reference = fastest(lambda: evaluate_cases(model, [{}, demo]))
    built = fastest(whole)
    yield f"build, both workbooks         {built:9.2f} s    specs, formulas, reference, writing, dump"
    yield f"bare writing of the same cells{bare:9.2f} s    the library alone, no limits, one format"
    yield f"reference of both             {reference:9.2f} s"
    yield f"build / (bare + reference)    {built / (bare + reference):9.2f}      aim: below 1.5"


def _contents(path: Path) -> Contents:
    """Every cell of a workbook that holds something or has a style."""
    stored: Cells = read_values(path)
    book = openpyxl.load_workbook(path)
    return [
        (
            sheet.title,
            [
                (cell.row - 1, cell.column - 1, cell.value, stored.get((sheet.title, cell.coordinate)))
                for line in sheet.iter_rows()
                for cell in line
                if cell.value is not None or cell.has_style
            ],
        )
        for sheet in book.worksheets
    ]


def _write_bare(sheets: Contents, path: Path) -> None:
    with xlsxwriter.Workbook(str(path)) as book:
        style = book.add_format({"border": 1})
        for title, cells in sheets:
            sheet = book.add_worksheet(title)
            for line, column, value, stored in cells:
                if value is None:
                    sheet.write_blank(line, column, None, style)
                elif isinstance(value, str) and value.startswith("="):
                    sheet.write_formula(line, column, value, style, "" if stored is None else stored)
                elif isinstance(value, str):
                    sheet.write_string(line, column, value, style)
                else:
                    sheet.write_number(line, column, stored, style)


def _recalculating(engine: str, demo: Path) -> str:
    reason = engines.missing(engine)
    if reason:
        return f"recalculating, {engine:14} not measured: {reason}"
    seconds = fastest(lambda: engines.recalculate([demo], engine), 1 if engine == "formulas" else 3)
    return f"recalculating, {engine:14} {seconds:9.2f} s    one file, with starting and reading back"


def _gathering(model: Model, folder: Path) -> str:
    """Filled workbooks of invented eyes, over and over: read through the guard, compared, computed anew."""
    cases = read_simulated()[:SENT]
    paths = [folder / f"{case['plan']['file_number']}.xlsx" for case in cases]
    fill_many(model, [(typed_cells(model, case), path) for case, path in zip(cases, paths, strict=True)])
    asked = paths * (GATHERED // SENT)
    work = partial(gather, asked, len(asked))
    seconds, spent = fastest(work, 2) / GATHERED, fastest(work, 2, lambda: sum(os.times()[:4])) / GATHERED
    return f"gathering {GATHERED} files {1 / seconds:19.1f} a second   aim: 25 on two cores; {spent:.3f} s of work each"


def _throughput(model: Model, cases: list[Any]) -> str:
    """The demo cases over and over, two eyes each, in one call."""
    arrays = typed_arrays(model, [cases[number % len(cases)] for number in range(EYES // 2)])
    book = reference_book(model)
    seconds = fastest(lambda: evaluate(book, arrays), 3)
    return f"reference, {EYES:,} eyes        {seconds:9.2f} s    {EYES / seconds:,.0f} eyes a second, all rows"


def _million_eyes() -> Iterator[str]:
    arrays, few = works(MILLION, LOOPED)
    seconds = [fastest(arrays, 1), fastest(few, 1) * LOOPED]
    yield f"one million eyes, arrays      {seconds[0]:9.2f} s    Holladay 1 and the toric trace"
    yield f"the same eye by eye           {seconds[1]:9.0f} s    from a part; ratio {seconds[1] / seconds[0]:,.0f}"


def _traced_eyes() -> Iterator[str]:
    """Warped corneas, front and back, traced from the retina out; process time, as other work slows a clock's time."""
    for name, work in traced(TRACED).items():
        seconds = fastest(work, clock=time.process_time)
        yield f"eyes of {name:23}{TRACED / seconds:9,.0f} a second   aim: 20,000 on one quiet core"
