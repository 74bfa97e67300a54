"""What can be checked of a whole workbook spec before anything is laid out."""

from __future__ import annotations

from builder.spec.errors import SpecError, nearest
from builder.spec.model import WorkbookSpec

CHANGE = {"version": str, "results_change": bool, "text": str}


def check_changes(spec: WorkbookSpec) -> None:
    """Every entry of the change log has its version, says whether results change, and what changed; newest first."""
    for change in spec.changes:
        for key, kind in CHANGE.items():
            if not isinstance(change.get(key), kind):
                wanted = "true or false" if kind is bool else "a text"
                raise SpecError("changes.toml", key, f"is not {wanted} in an entry", f"Give {', '.join(CHANGE)}")
    if spec.changes[0]["version"] != spec.version:
        wrong = f"is {spec.version}, but the newest entry is of {spec.changes[0]['version']}"
        raise SpecError("changes.toml", "version", wrong, "Add an entry for this version at the top, or set `version`")
    versions = [change["version"] for change in spec.changes]
    for version in versions:
        if versions.count(version) > 1:
            raise SpecError("changes.toml", version, "has two entries", "Make one of them, or raise one version")


def check_spec(spec: WorkbookSpec) -> None:
    """Names are unique in their list and no constant; every row has a label; every source and choice has its words."""
    check_changes(spec)
    seen: dict[tuple[str, str], str] = {}
    known = {source["key"] for source in spec.sources}
    keys = [block.key for _, block in spec.blocks()]
    for _, block in spec.blocks():
        if keys.count(block.key) > 1:
            raise SpecError(
                block.file, block.key, "is the key of two blocks", "Rename one; <inputs>_state and the like are taken"
            )
        for row in block.rows:
            place = (block.instances.name, row.key)
            if place in seen or row.key in spec.constants:
                raise SpecError(
                    row.file, row.key, "is named twice", f"The other one is in {seen.get(place, 'constants.toml')}"
                )
            seen[place] = row.file
            if (not row.label or row.of) and row.kind != "blank":
                spec.words.label(row.label or (row.input.key if row.input else row.key))
            if row.of:
                spec.words.label(f"of_{row.of}")
            if row.unit:
                spec.words.get("unit", row.unit)
            for source in row.source.split():
                if source not in known:
                    raise SpecError(row.file, row.key, f"cites the unknown source '{source}'", nearest(source, known))
            for instance in (*row.formulas, *row.cells):
                if instance not in block.instances.keys:
                    raise SpecError(
                        row.file,
                        row.key,
                        f"speaks of the unknown instance '{instance}'",
                        nearest(instance, block.instances.keys),
                    )
            if not (row.kind == "blank" or row.echo or row.input or row.formula):
                for instance in block.instances.keys:
                    if instance not in row.formulas and instance not in row.cells:
                        todo = f"Give it one in `formulas`, or a cell in `cells`; the list is '{block.instances.name}'"
                        raise SpecError(row.file, row.key, f"has no formula for '{instance}'", todo)
    for item in spec.inputs:
        for choice in item.choices:
            spec.words.get("choice", choice)
    for constant in spec.constants.values():
        spec.words.label(constant.key)
        if constant.source and constant.source not in known:
            raise SpecError(
                "constants.toml",
                constant.key,
                f"cites the unknown source '{constant.source}'",
                nearest(constant.source, known),
            )
