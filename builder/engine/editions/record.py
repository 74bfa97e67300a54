"""The results of the cases at the last release, and the rule that no result changes without an entry that says so."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from builder.engine.dump import name_of
from builder.engine.editions.store import EDITIONS, constants_in, head_of, released, version_of
from builder.engine.exchange.in_files import as_in_files
from builder.engine.layout import Place, Slot, formula_slots
from builder.engine.model import Model
from builder.engine.same import same
from builder.engine.spec import SpecError
from builder.engine.spec.reading import read_toml
from builder.engine.values import values_of_cases

SHOWN = 3  # changed results that a refusal names

Results = dict[str, Any]  # by name, as right.mean_k; None where there is none


@dataclass(frozen=True)
class Cases:
    """The cases whose results are kept: what is typed into each, by its name.

    `sentences`: the keys under which programs read what is said, which is a message and no result.
    """

    typed: Mapping[str, Mapping[Place, Any]]
    sentences: Collection[str] = ()


def results(model: Model, cases: Cases) -> dict[str, Results]:
    """The published results of every case by the reference; sentences are messages and not among them."""
    values = values_of_cases(model, list(cases.typed.values()))
    words, slots = model.spec.words, kept_slots(model, cases)
    return {
        name: {name_of(slot): as_in_files(words, cells[slot.place]) for slot in slots}
        for name, cells in zip(cases.typed, values, strict=True)
    }


def kept_slots(model: Model, cases: Cases) -> list[Slot]:
    """The cells whose values are results."""
    return [s for s in formula_slots(model.layout) if s.row.publish and s.row.publish not in cases.sentences]


def axes(model: Model, cases: Cases) -> set[str]:
    """The names of the results that are axes."""
    return {name_of(slot) for slot in kept_slots(model, cases) if slot.row.is_axis}


def record_file(model: Model, folder: Path = EDITIONS) -> Path:
    """Where the results of a workbook's cases are kept."""
    return folder / f"results-{model.spec.name}.toml"


def write_record(model: Model, cases: Cases, folder: Path = EDITIONS) -> Path:
    """Keeps the results of the cases as those of the current version."""
    lines = [
        "# The results of the cases at the last release, written by: python -m builder release",
        f"version = {json.dumps(model.spec.version)}",
    ]
    for case, found in results(model, cases).items():
        lines += ["", f"[{json.dumps(case)}]"]
        lines += [
            f"{json.dumps(name)} = {json.dumps('' if v is None else v, ensure_ascii=False)}"
            for name, v in found.items()
        ]
    path = record_file(model, folder)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def changed_results(model: Model, cases: Cases, record: Mapping[str, Any]) -> list[str]:
    """Each result of a recorded case that is another now, in words; a new result or case changes none."""
    now = results(model, cases)
    folded = axes(model, cases)
    return [
        f"{case}, {name}: {was!r} is now {now[case].get(name)!r}"
        for case, found in record.items()
        if case in now and isinstance(found, dict)
        for name, was in found.items()
        if not same(None if was == "" else was, now[case].get(name), name in folded)
    ]


def changed_constants(model: Model, folder: Path = EDITIONS) -> list[str]:
    """Each constant whose value is another than in the last release, in words: no case need show it."""
    for path in released(folder).values():
        edition, workbook = head_of(path)
        if workbook == model.spec.title and version_of(edition) == _released_version(model, folder):
            was = constants_in(path)
            return [
                f"{key}: {was[key]} is now {constant.value!r}"
                for key, constant in model.spec.constants.items()
                if key in was and was[key] != repr(constant.value)
            ]
    return []


def _released_version(model: Model, folder: Path) -> str:
    path = record_file(model, folder)
    return str(read_toml(path)["version"]) if path.exists() else ""


def demand_entry(model: Model, cases: Cases, folder: Path = EDITIONS) -> None:
    """Refuses, as a SpecError, results that differ from the last release when no entry since says so."""
    path = record_file(model, folder)
    if not path.exists():
        return
    record = read_toml(path)
    versions = [change["version"] for change in model.spec.changes]
    since = versions.index(record["version"]) if record["version"] in versions else len(versions)
    if any(change["results_change"] for change in model.spec.changes[:since]):
        return
    changed = changed_results(model, cases, record)
    if changed:
        more = f" and {len(changed) - SHOWN} more" if len(changed) > SHOWN else ""
        raise SpecError(
            "changes.toml",
            "results_change",
            f"no entry since {record['version']} says that results change, but they do: "
            f"{'; '.join(changed[:SHOWN])}{more}",
            "Add an entry with results_change = true that says why, or undo the change",
        )
