"""Is a file what was built, inputs aside? All comparisons, and the report in words and for programs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from builder.engine.audit.book import BookView, view_of
from builder.engine.audit.by_hand import compare_by_hand
from builder.engine.audit.cells import compare_cells
from builder.engine.audit.computing import compare_computing
from builder.engine.audit.expected import Planned, Which, built_book, built_prints, every_cell, planned_cells, which_of
from builder.engine.audit.finding import Finding, finding, sentences
from builder.engine.audit.pictures import compare_pictures
from builder.engine.audit.recomputed import ENGINES, compare_recomputed, engine_at_hand
from builder.engine.audit.results import compare_results
from builder.engine.audit.rules import compare_rules
from builder.engine.audit.seen import compare_seen
from builder.engine.audit.stored import BrokenSheet
from builder.engine.audit.structure import compare_structure
from builder.engine.editions import UnknownEdition
from builder.engine.exchange.listed import NotOurs, list_lines, listed_edition
from builder.engine.exchange.untrusted import Package, Refused, open_untrusted
from builder.engine.model import Model
from builder.engine.spec.reading import SPECS

CLEAN, CHANGED, REFUSED, NOT_COMPUTED = 0, 1, 2, 3
WORDS = ("clean", "changed", "refused", "not computed")
LONGEST_EDITION = 40  # letters that are told of a file's edition
SHOWN = 20  # findings of one kind that are told in words; programs get all


@dataclass(frozen=True)
class Report:
    """What is found of one file. `refused`: why it was not compared at all, else empty."""

    file: str
    edition: str | None
    refused: str
    findings: tuple[Finding, ...]

    @property
    def verdict(self) -> int:
        """CLEAN, CHANGED, REFUSED; NOT_COMPUTED where results are only claims: the exit status for this file."""
        if self.refused:
            return REFUSED
        if any(f.of_meaning for f in self.findings):
            return CHANGED
        return NOT_COMPUTED if any(f.kind in ("not_computed", "not_seen") for f in self.findings) else CLEAN

    def told(self) -> dict[str, Any]:
        """For programs."""
        parts: dict[str, list[dict[str, Any]]] = {"findings": [], "notes": []}
        for found in self.findings:
            parts["findings" if found.of_meaning else "notes"].append(asdict(found))
        refused = self.refused or None
        return {
            "file": self.file,
            "edition": self.edition,
            "verdict": WORDS[self.verdict],
            "refused": refused,
        } | parts

    def lines(self) -> Iterator[str]:
        """In words: the verdict, then what differs, then what is only noted."""
        words = sentences()
        if self.refused:
            yield self.refused
            return
        count = sum(found.of_meaning for found in self.findings)
        key = (
            "verdict_changed" if count else "verdict_not_computed" if self.verdict == NOT_COMPUTED else "verdict_clean"
        )
        verdict = words.get("finding", key)
        yield verdict.format(file=self.file, edition=self.edition, count=count)
        for of_meaning in (True, False):
            told: dict[str, int] = {}
            for found in self.findings:
                if found.of_meaning is of_meaning:
                    told[found.kind] = told.get(found.kind, 0) + 1
                    if told[found.kind] <= SHOWN:
                        yield "  " + ("" if of_meaning else words.get("finding", "note")) + found.sentence
            for kind, number in told.items():
                if number > SHOWN:
                    yield "  " + words.get("finding", "more").format(count=number - SHOWN, kind=kind)


def verify(path: Path, lines: int | None = None, seen: bool = False, specs: Path = SPECS) -> Report:
    """Compares a workbook with the edition it claims.

    `lines`: of workbooks that were built with another length than the specs say. `seen`: what LibreOffice prints of it
    is compared too. `specs`: the folder of all specs. Raises EngineMissing, EngineFailed with `seen` alone.
    """
    try:
        return verify_package(open_untrusted(path), lines, seen, specs)
    except Refused as error:
        return Report(path.name, None, str(error), ())


def verify_package(package: Package, lines: int | None = None, seen: bool = False, specs: Path = SPECS) -> Report:
    """As verify, of a file that has passed the guard."""
    edition = None
    try:
        book = view_of(package)
        which = which_of(book.sheets, lines, specs)
        model = which.model()
        edition = claimed_edition(book, model)
        if edition == model.edition:
            pages = list(compare_seen(package, lines, specs)) if seen else []
            return Report(package.name, edition, "", (*_compare(which, package, book), *pages))
        pages = [finding("not_seen")] if seen else []
        return Report(package.name, edition, "", (*_compare_older(which, package, book, edition), *pages))
    except (Refused, NotOurs) as error:
        return Report(package.name, edition, str(error), ())
    except (UnknownEdition, ValueError) as error:  # BrokenSheet is one; so is a dump that was changed
        reason = "odd_content" if isinstance(error, BrokenSheet) else "edition"
        return Report(package.name, edition, str(Refused(reason, package.name, error)), ())


def _compare(which: Which, package: Package, book: BookView) -> Iterator[Finding]:
    built, planned, computing = built_book(which), every_cell(which), planned_cells(which)
    yield from compare_computing(computing, book.sheets)
    yield from compare_cells(planned, built, book)
    yield from compare_rules(planned, built, book)
    yield from compare_structure(built, book)
    yield from compare_pictures(built.pictures, book.pictures, book.values)
    yield from compare_by_hand(built_prints(which), package.parts)
    yield from compare_results(which.model(), computing, book)


def _compare_older(which: Which, package: Package, book: BookView, edition: str) -> Iterator[Finding]:
    """What a dump can tell: formulas, constants and locks; and what hides or unlocks in any workbook."""
    planned = planned_cells(which, edition)
    yield from compare_computing(planned, book.sheets)
    shown = {title: _texts_of(book, title) | dict(cells) for title, cells in planned.items()}
    yield from compare_cells(shown, None, book)
    yield from compare_structure(None, book)
    yield from (finding("sheet_extra", title) for title in book.sheets if title not in planned)
    engine = engine_at_hand()
    if engine:
        yield from compare_recomputed(planned, package, book, engine)
    else:
        yield finding("not_computed", found=" or ".join(ENGINES))
    yield finding("older", expected=which.model().edition, found=edition)


def _texts_of(book: BookView, title: str) -> dict[str, Planned]:
    """The texts of a sheet, which a dump does not place: taken as they are."""
    cells = book.sheets[title].cells.items() if title in book.sheets else ()
    return {address: Planned("label", cell.value, "") for address, cell in cells if isinstance(cell.value, str)}


def claimed_edition(book: BookView, model: Model) -> str:
    """The edition that a file says it is of. Raises NotOurs, Refused."""
    values = book.values
    if values.get(model.edition_cell()) == model.edition:
        return model.edition
    try:
        told = listed_edition(values, list_lines(values, book.name, model.spec.home), model.spec.edition)
    except ValueError:
        raise Refused("odd_list", book.name) from None
    if not told:
        raise NotOurs(f"{book.name}: {sentences().get('finding', 'no_edition')}")
    return told[:LONGEST_EDITION]
