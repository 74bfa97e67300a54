"""The comparison as lines to read and sign: what differs, then what it does to the cases."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from builder.engine.compare.changes import KINDS, Change, changes
from builder.engine.compare.effect import CaseEffect, Effect, effects
from builder.engine.editions.record import Cases
from builder.engine.editions.store import Edition, edition_of_model
from builder.engine.model import Model
from builder.engine.spec import SpecError

TITLES = {
    "constant": "Constants",
    "formula": "Formulas",
    "input": "Inputs and their limits",
    "fixed": "Fixed cells of tables and examples",
    "message": "Messages",
}


def report(model: Model, old: Edition, engine: str, cases: Cases) -> Iterator[str]:
    """The whole report, a line at a time."""
    title = model.spec.words.get("text", f"{model.spec.name}_title")
    yield f"From edition {old.edition} to edition {model.edition} of {title}"
    found = changes(old, edition_of_model(model))
    for number, kind in enumerate(KINDS, start=1):
        mine = [change for change in found if change.kind == kind]
        counts = [
            sum(1 for c in mine if c.was and c.now),
            sum(1 for c in mine if not c.was),
            sum(not c.now for c in mine),
        ]
        yield ""
        part = " (in part)" if kind == "message" and not old.words else ""
        yield f"{number}. {TITLES[kind]}{part}: {counts[0]} changed, {counts[1]} new, {counts[2]} gone"
        for change in mine:
            yield from _change(model, change)
    if not old.words:
        yield f"   No dump of edition {old.edition} is here: only sentences in formulas and cells are compared,"
        yield "   changed labels, titles, notes and helps are NOT told. Compare by the dump of that edition."
    yield ""
    yield from _log(model, old, len(KINDS) + 1)
    yield ""
    yield f"{len(KINDS) + 2}. Effect on the cases"
    yield f"   old results by the formulas of {old.edition}, recalculated by {engine};"
    yield f"   new results by the reference, which the cells of {model.edition} are tested against"
    for case in effects(model, old, engine, cases):
        yield from _case(model, case)
    yield ""
    yield "Read and agreed:  name ______________________________   date ______________   signature ____________________"


def _change(model: Model, change: Change) -> Iterator[str]:
    cells = f", {len(change.cells)} cells" if len(change.cells) > 1 else ""
    yield f"   {_label(model, change.key)}{cells}"
    if change.kind in ("constant", "input", "fixed") and change.was and change.now:
        yield f"      {change.was} -> {change.now}"
        return
    quote = '"' if change.kind == "message" else ""
    if change.was:
        yield f"      was  {quote}{change.was}{quote}"
    if change.now:
        yield f"      now  {quote}{change.now}{quote}"


def _label(model: Model, key: str) -> str:
    try:
        return f"{model.spec.words.label(key)} ({key})"
    except SpecError:
        return key


def _log(model: Model, old: Edition, number: int) -> Iterator[str]:
    """What the change log says since the old version."""
    versions = [change["version"] for change in model.spec.changes]
    since = versions.index(old.version) if old.version in versions else len(versions)
    yield f"{number}. Change log since version {old.version}: {since} entries"
    for change in model.spec.changes[:since]:
        yield f"   {change['version']}, results change: {'yes' if change['results_change'] else 'no'}"
        yield f"      {change['text']}"


def _case(model: Model, case: CaseEffect) -> Iterator[str]:
    yield f"   {case.case}: {len(case.effects)} of {case.compared} results change"
    if case.unknown_inputs:
        yield f"      not typed, for the old edition has no such input: {', '.join(case.unknown_inputs)}"
    for effect in case.effects:
        yield f"      {_name(model, effect)}: {_shown(effect.was)} -> {_shown(effect.now)}{_gap(effect)}"


def _name(model: Model, effect: Effect) -> str:
    owner, _, key = effect.name.rpartition(".")
    return f"{owner}, {_label(model, key)}"


def _shown(value: Any) -> str:
    if value is None or value == "":
        return "empty"
    return f"{value:.6g}" if isinstance(value, float | int) else repr(value)


def _gap(effect: Effect) -> str:
    if effect.gap == float("inf"):
        return ""
    return f"   ({effect.now - effect.was:+.6g})"
